"""Messages on their way through the outbox."""

import json

from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import JsonValue, Notice, NoticeKind, Priority, Table

words = st.text(max_size=20)
cells = st.tuples(words, words)
json_values: st.SearchStrategy[JsonValue] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=6,
)
tables = st.builds(Table, words, cells, st.lists(cells, max_size=3).map(tuple))
notices = st.builds(
    Notice,
    id=words,
    kind=st.sampled_from(NoticeKind),
    time_us=st.integers(0, 2**53),
    site=words,
    subject=words,
    summary=words,
    facts=st.lists(cells, max_size=3).map(tuple),
    advice=st.lists(words, max_size=3).map(tuple),
    tables=st.lists(tables, max_size=2).map(tuple),
    priority=st.sampled_from(Priority),
    thread=st.none() | words,
    data=st.dictionaries(words, json_values, max_size=3),
)


@given(notices)
def test_a_notice_survives_the_outbox(notice: Notice) -> None:
    again = Notice.from_json(notice.to_json())
    assert again == notice
    assert (type(again.kind), type(again.priority)) == (NoticeKind, Priority)


def test_a_notice_is_stored_as_plain_json_that_people_can_read() -> None:
    notice = Notice("t.1", NoticeKind.TEST, 5, "Quillmere Orchard", "Grüße", "Summary", priority=Priority.HIGH)
    assert "Grüße" in notice.to_json()
    stored = json.loads(notice.to_json())
    assert (stored["kind"], stored["priority"], stored["thread"]) == ("test", 3, None)


def test_priorities_rise_from_low_to_high() -> None:
    assert [priority.word for priority in sorted(Priority)] == ["low", "medium", "high"]
