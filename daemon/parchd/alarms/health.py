"""How what the daemon is connected to does: sources, sinks, notifiers, its disk and its clock.

Judged by the daemon's own time: these are not measurements.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.faults import Conditions, move
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import DiskLimits, HealthRule
from parchd.contract import JsonValue

LONGEST_TEXT = 300
ROOM_AGAIN = 1.2
"""There is room again at so many times the limit: a file that comes and goes must not make the alarm chatter."""
MEGABYTE = 1_000_000


class Trouble(NamedTuple):
    """What is wrong with one connection.

    Args:
        since_us: since when, by the daemon's clock.
        text: what it said last.
        final: trying again is of no use; a person must act.
    """

    since_us: int
    text: str
    final: bool = False


Troubles = dict[str, dict[str, Trouble]]
"""By subject (``source/NAME``, ``sink/NAME``, ``notifier/NAME``); of a notifier by recipient, else that of ``""``."""


@dataclass(frozen=True, slots=True)
class Space:
    """What is free on the disk of the journal.

    Args:
        free_bytes, total_bytes: as the system says.
        is_full: the journal could not be written.
    """

    free_bytes: int
    total_bytes: int
    is_full: bool = False


def note_trouble(
    troubles: Troubles, subject: str, text: str, now_us: int, *, part: str = "", final: bool = False
) -> None:
    """Note what a connection said, or that it works again (an empty text); ``troubles`` is changed in place.

    >>> troubles: Troubles = {}
    >>> note_trouble(troubles, "sink/charts", "refused", 5)
    >>> note_trouble(troubles, "sink/charts", "timed out", 9)
    >>> troubles
    {'sink/charts': {'': Trouble(since_us=5, text='timed out', final=False)}}
    >>> note_trouble(troubles, "sink/charts", "", 10)
    >>> troubles
    {}
    """
    parts = dict(troubles.pop(subject, {}))
    before = parts.pop(part, None)
    if text:
        parts[part] = Trouble(now_us if before is None else before.since_us, text[:LONGEST_TEXT], final)
    if parts:
        troubles[subject] = parts


def can_tell(notifier: str, key: AlarmKey) -> bool:
    """Whether a notifier is fit to tell of an alarm: one that is down cannot tell of itself.

    Without another one nobody is told; it stands in ``parchd status`` and ``parchd alarms``.

    >>> down = AlarmKey(AlarmKind.NOTIFIER_DOWN, "notifier/mail")
    >>> can_tell("mail", down), can_tell("hook", down)
    (False, True)
    """
    return key.kind is not AlarmKind.NOTIFIER_DOWN or key.name != notifier


def judge_connection(rule: HealthRule, conditions: Conditions, troubles: Troubles, now_us: int) -> list[AlarmEvent]:
    """Ask at ``now_us`` whether a source, sink or notifier is down; ``conditions`` is changed in place."""
    parts = troubles.get(rule.subject, {})
    if not parts and AlarmKey(rule.kind, rule.subject) not in conditions:
        return []
    final = any(trouble.final for trouble in parts.values())
    delays = replace(rule.delays, on_s=0.0) if final else rule.delays
    return judge(replace(rule, delays=delays), conditions, bool(parts), not parts, now_us, _said(parts))


def judge_clock(rule: HealthRule, conditions: Conditions, is_trusted: bool, now_us: int) -> list[AlarmEvent]:
    """Ask whether the time of day can be believed; ``conditions`` is changed in place."""
    if is_trusted and AlarmKey(rule.kind, rule.subject) not in conditions:
        return []
    return judge(rule, conditions, not is_trusted, is_trusted, now_us, {})


def judge_disk(
    rule: HealthRule, limits: DiskLimits, conditions: Conditions, space: Space, now_us: int
) -> list[AlarmEvent]:
    """Ask whether there is room for the journal; ``conditions`` is changed in place."""
    least_bytes = limits.least_bytes(space.total_bytes)
    on = space.is_full if rule.kind is AlarmKind.DISK_FULL else space.free_bytes < least_bytes or space.is_full
    off = not on and space.free_bytes >= ROOM_AGAIN * least_bytes
    free_mb = round(space.free_bytes / MEGABYTE, 1)
    return judge(rule, conditions, on, off, now_us, {"free_mb": free_mb, "total_mb": space.total_bytes // MEGABYTE})


def judge(
    rule: HealthRule, conditions: Conditions, on: bool, off: bool, now_us: int, evidence: Mapping[str, JsonValue]
) -> list[AlarmEvent]:
    """Move one condition on, with what it rests on."""
    event = move(conditions, AlarmKey(rule.kind, rule.subject), rule.delays, on, off, now_us)
    if event is None:
        return []
    return [replace(event, evidence=evidence if event.change is Change.RAISED else {})]


def _said(parts: Mapping[str, Trouble]) -> dict[str, JsonValue]:
    if not parts:
        return {}
    recipients: list[JsonValue] = [part for part in sorted(parts) if part]
    said: dict[str, JsonValue] = {
        "trouble": max(parts.values()).text, "since_us": min(trouble.since_us for trouble in parts.values()),
    }  # fmt: skip
    return said | ({"recipients": recipients} if recipients else {})
