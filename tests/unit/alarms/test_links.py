"""Links that answer an alarm: what was signed is read back, and nothing else is."""

import base64
import string

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from parchd.alarms.events import AlarmKey
from parchd.alarms.links import Link, LinkAct, LinkForged, mark_of, read, sign
from parchd.alarms.rules import AlarmKind
from parchd.clock import US_PER_S

KEY = bytes(range(32))
ALPHABET = string.ascii_letters + string.digits + "-_"
LINK = Link(
    LinkAct.SHELVE, AlarmKey(AlarmKind.LOST_WATER, "tensiometer/t0"), 1_780_000_000_123_456, "ines", 9 * US_PER_S
)
NAMES = st.text(string.ascii_lowercase + string.digits + "-_", min_size=1, max_size=48)
LINKS = st.builds(
    Link,
    act=st.sampled_from(LinkAct),
    key=st.builds(AlarmKey, st.sampled_from(AlarmKind), NAMES.map("zone/{}".format)),
    raised_us=st.integers(0, 2**62),
    person=st.text(min_size=1, max_size=100).filter(lambda text: text.encode(errors="ignore").decode() == text),
    expires_us=st.integers(0, 2**42).map(lambda seconds: seconds * US_PER_S),
)


@given(LINKS, st.binary(min_size=32, max_size=32))
def test_what_was_signed_is_read_back(link: Link, key: bytes) -> None:
    token = sign(link, key)
    assert read(token, key) == link
    assert set(token) <= set(ALPHABET), "it fits into a URL as it is"


@given(LINKS, st.data())
def test_any_changed_character_is_refused(link: Link, data: st.DataObject) -> None:
    token = sign(link, KEY)
    place = data.draw(st.integers(0, len(token) - 1))
    other = data.draw(st.sampled_from(ALPHABET).filter(lambda c: c != token[place]))
    with pytest.raises(LinkForged):
        read(token[:place] + other + token[place + 1 :], KEY)


@given(LINKS, st.data())
def test_any_changed_bit_of_what_it_says_is_refused(link: Link, data: st.DataObject) -> None:
    token = sign(link, KEY)
    raw = bytearray(base64.urlsafe_b64decode(token + "=" * (-len(token) % 4)))
    place = data.draw(st.integers(0, len(raw) * 8 - 1))
    raw[place // 8] ^= 1 << place % 8
    with pytest.raises(LinkForged):
        read(base64.urlsafe_b64encode(bytes(raw)).decode().rstrip("="), KEY)


@given(st.text(max_size=200))
def test_no_text_that_somebody_makes_up_is_a_link(text: str) -> None:
    with pytest.raises(LinkForged):
        read(text, KEY)


@given(st.binary(min_size=32, max_size=32))
def test_a_link_of_another_key_is_refused(other: bytes) -> None:
    assume(other != KEY)
    with pytest.raises(LinkForged):
        read(sign(LINK, other), KEY)


@pytest.mark.parametrize("end", ["=", "==", " ", "\n", ".", "%20", "A" * 2000])
def test_another_spelling_of_a_link_is_refused(end: str) -> None:
    with pytest.raises(LinkForged):
        read(sign(LINK, KEY) + end, KEY)


def test_links_differ_in_each_of_their_parts() -> None:
    others = [
        Link(LinkAct.ACKNOWLEDGE, LINK.key, LINK.raised_us, LINK.person, LINK.expires_us),
        Link(LINK.act, AlarmKey(AlarmKind.AIR_LEAK, "tensiometer/t0"), LINK.raised_us, LINK.person, LINK.expires_us),
        Link(LINK.act, AlarmKey(AlarmKind.LOST_WATER, "tensiometer/t1"), LINK.raised_us, LINK.person, LINK.expires_us),
        Link(LINK.act, LINK.key, LINK.raised_us + 1, LINK.person, LINK.expires_us),
        Link(LINK.act, LINK.key, LINK.raised_us, "tom", LINK.expires_us),
        Link(LINK.act, LINK.key, LINK.raised_us, LINK.person, LINK.expires_us + US_PER_S),
    ]
    assert len({mark_of(sign(link, KEY)) for link in (LINK, *others)}) == len(others) + 1


def test_a_link_is_short_enough_to_be_read_and_the_same_each_time() -> None:
    assert len(sign(LINK, KEY)) < 120
    assert sign(LINK, KEY) == sign(LINK, KEY)
