"""Links that answer an alarm: one right each, signed, for one person and one episode, and not for ever.

A link says itself what it is a right to; only who has the key can make one. The signature is HMAC-SHA256 (RFC 2104),
cut to half of its length, which section 5 there allows.
"""

import hmac
from base64 import urlsafe_b64decode, urlsafe_b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from parchd.alarms.events import AlarmKey
from parchd.alarms.rules import AlarmKind
from parchd.clock import US_PER_S

MARK_BYTES = 16
_PURPOSE = b"parchd answer link 1\n"
_LONGEST = 1000


class LinkAct(StrEnum):
    """What a link lets a person do."""

    ACKNOWLEDGE = "acknowledge"
    SHELVE = "shelve"
    SERVICE = "service"
    """Say that a tensiometer was worked on."""


USUAL_WORK: Mapping[AlarmKind, str] = MappingProxyType(
    {
        AlarmKind.LOST_WATER: "refill",
        AlarmKind.AIR_ENTRY: "refill",
        AlarmKind.ABOVE_LIMIT: "refill",
        AlarmKind.AIR_LEAK: "re-prime",
        AlarmKind.SLOW_RESPONSE: "re-prime",
        AlarmKind.CRACKED_CUP: "install",
        AlarmKind.POOR_CONTACT: "install",
        AlarmKind.ZERO_DRIFT: "re-zero",
        AlarmKind.FROZEN: "frost-removal",
        AlarmKind.FROST_RISK: "frost-removal",
        AlarmKind.LEVEL_SHIFT: "other",
        AlarmKind.STUCK_VALUE: "other",
        AlarmKind.BLOCKED_VENT: "other",
        AlarmKind.ELECTRICAL: "other",
        AlarmKind.IMPOSSIBLE: "other",
    }
)
"""Alarms of a tensiometer that work on it may end, and the work that usually does."""


def acts_for(key: AlarmKey) -> tuple[LinkAct, ...]:
    """What an alarm can be answered with.

    >>> [act.value for act in acts_for(AlarmKey(AlarmKind.LOST_WATER, "tensiometer/north-1"))]
    ['acknowledge', 'service', 'shelve']
    >>> [act.value for act in acts_for(AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north"))]
    ['acknowledge', 'shelve']
    """
    served = key.kind in USUAL_WORK and key.subject.startswith("tensiometer/")
    return (LinkAct.ACKNOWLEDGE, *([LinkAct.SERVICE] if served else []), LinkAct.SHELVE)


class LinkVerdict(StrEnum):
    """Why a link does nothing."""

    USED = "used"
    ENDED = "ended"
    """The episode that it is about is over."""
    NEEDLESS = "needless"
    """What it lets a person do was done by somebody."""
    EXPIRED = "expired"
    FORGED = "forged"


class LinkForged(ValueError):
    """Nobody with our key wrote this, or it was damaged on its way."""


@dataclass(frozen=True, slots=True)
class Link:
    """The right to do one thing about one episode of an alarm, once.

    Args:
        act: what.
        key: the alarm.
        raised_us: when the episode was raised; with the key it names the episode.
        person: whose right it is, by key.
        expires_us: the right ends here; whole seconds.
    """

    act: LinkAct
    key: AlarmKey
    raised_us: int
    person: str
    expires_us: int


def sign(link: Link, key: bytes) -> str:
    """Write a link down as text that fits into a URL: letters, digits, ``-`` and ``_``.

    >>> alarm = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
    >>> sign(Link(LinkAct.ACKNOWLEDGE, alarm, 1_780_000_000_000_000, "ines", 1_780_600_000_000_000), bytes(32))[:21]
    'EOugv7o56KcQanGnyXkS2'
    """
    raised, expires = f"{link.raised_us:x}", f"{link.expires_us // US_PER_S:x}"
    body = "\n".join((link.act, link.key.kind, link.key.subject, raised, expires, link.person)).encode()
    return urlsafe_b64encode(_mark(body, key) + body).decode().rstrip("=")


def read(token: str, key: bytes) -> Link:
    """Read a link that `sign` wrote. Whether its time is over is for the caller to see.

    Raises:
        LinkForged: it is not as it was written with this key, to the last bit.
    """
    raw = _bytes(token)
    mark, body = raw[:MARK_BYTES], raw[MARK_BYTES:]
    if not hmac.compare_digest(mark, _mark(body, key)):
        raise LinkForged("the signature does not fit")
    try:
        act, kind, subject, raised, expires, person = body.decode().split("\n", 5)
        key_of_alarm = AlarmKey(AlarmKind(kind), subject)
        return Link(LinkAct(act), key_of_alarm, int(raised, 16), person, int(expires, 16) * US_PER_S)
    except ValueError as error:  # signed by another version of ours
        raise LinkForged("nothing this version knows") from error


def mark_of(token: str) -> str:
    """Name a link in the list of those that were used; it gives nobody the right back.

    >>> mark_of("EOugv7o56KcQanGnyXkS2-and-so-on")
    'EOugv7o56KcQanGnyXkS2'
    """
    return token[:21]


def _bytes(token: str) -> bytes:
    """Take the text apart; other spellings of the same bytes are refused."""
    if len(token) > _LONGEST or not token.isascii():
        raise LinkForged("no link of ours")
    try:
        raw = urlsafe_b64decode(token + "=" * (-len(token) % 4))
    except ValueError:
        raise LinkForged("no link of ours") from None
    if urlsafe_b64encode(raw).decode().rstrip("=") != token:
        raise LinkForged("no link of ours")
    return raw


def _mark(body: bytes, key: bytes) -> bytes:
    return hmac.digest(key, _PURPOSE + body, "sha256")[:MARK_BYTES]
