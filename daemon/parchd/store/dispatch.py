"""Which messages leave the outbox now: rates, and what is merged because it would be too much.

This is the last safety net: `parchd.people` decides what becomes a message, and keeps quiet hours. The policy for one
recipient, where N is ``max_per_hour``:

1. No more than N messages leave within any 60 minutes, of whatever kind.
2. First goes an overflow message that waits already, then raised alarms of high priority, then the oldest.
3. When more wait than may leave, the last free place is kept for one overflow message: it takes in all that found no
   place of their own, the newest. So nothing waits longer than until the next place is free. Where that place is the
   only one, a high alarm too is told in the overflow message, at its top.

After an outage of days with 300 messages waiting, N - 1 come as they are, the high alarms and then the oldest, and
one overflow message lists all others.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from parchd.clock import US_PER_S
from parchd.contract import NoticeKind, Priority
from parchd.store.overflow import overflow_notice, urgency

__all__ = ["DispatchRules", "Merge", "Plan", "Waiting", "backoff_s", "overflow_notice", "plan"]

WINDOW_US = 3600 * US_PER_S
SHORTEST_PAUSE_S = 5.0
LONGEST_PAUSE_S = 3600.0


@dataclass(frozen=True, slots=True)
class Waiting:
    """A row of the outbox that has not been let go."""

    row_id: int
    recipient: str
    kind: NoticeKind
    priority: Priority
    created_us: int


@dataclass(frozen=True, slots=True)
class DispatchRules:
    """What holds for each recipient of one notifier.

    Args:
        max_per_hour: messages within any 60 minutes, 1 or more.
    """

    max_per_hour: int

    def __post_init__(self) -> None:
        if self.max_per_hour < 1:
            raise ValueError(f"max_per_hour is {self.max_per_hour}: nothing would ever leave")


@dataclass(frozen=True, slots=True)
class Merge:
    """Rows to be replaced by one message (`overflow_notice`), oldest first; there are always two or more."""

    recipient: str
    row_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do now.

    Args:
        release: rows to let go, in the order of sending.
        merge: rows to replace; the new row is waiting and is let go by the next plan, which is due at once.
        next_us: when to plan again if nothing new arrives; ``None``: nothing waits.
    """

    release: tuple[int, ...] = ()
    merge: tuple[Merge, ...] = ()
    next_us: int | None = None


@dataclass(frozen=True, slots=True)
class _Share:
    """The part of a plan that concerns one recipient."""

    release: Sequence[Waiting] = ()
    merge: Sequence[Waiting] = ()
    next_us: int | None = None


def plan(
    waiting: Sequence[Waiting],
    sent_us_by_recipient: Mapping[str, Sequence[int]],
    rules: DispatchRules,
    now_us: int,
) -> Plan:
    """Decide what leaves now.

    Args:
        waiting: all rows not let go yet, in any order.
        sent_us_by_recipient: when messages were sent to each recipient; older than an hour does not matter. One that
            was let go and is still on its way counts as sent now, however often it was tried. A time in the future
            (the clock was set back) does not count: a wrong clock must not silence alarms.
        rules: what holds for each recipient.
        now_us: the time, microseconds UTC.

    >>> row = Waiting(1, "a@quillmere.example", NoticeKind.RAISED, Priority.LOW, 0)
    >>> plan([row], {}, DispatchRules(max_per_hour=2), now_us=10)
    Plan(release=(1,), merge=(), next_us=None)
    >>> plan([row], {row.recipient: [5, 6]}, DispatchRules(max_per_hour=2), now_us=10).next_us == WINDOW_US + 5
    True
    """
    by_recipient: dict[str, list[Waiting]] = defaultdict(list)
    for row in waiting:
        by_recipient[row.recipient].append(row)
    shares = {
        recipient: _share(rows, sent_us_by_recipient.get(recipient, ()), rules, now_us)
        for recipient, rows in sorted(by_recipient.items())
    }
    release = sorted((row for share in shares.values() for row in share.release), key=_order)
    merge = (Merge(recipient, _oldest_first(share.merge)) for recipient, share in shares.items() if share.merge)
    times = (share.next_us for share in shares.values())
    return Plan(
        tuple(row.row_id for row in release),
        tuple(merge),
        min((time_us for time_us in times if time_us is not None), default=None),
    )


def _share(rows: Sequence[Waiting], sent_us: Iterable[int], rules: DispatchRules, now_us: int) -> _Share:
    recent_us = sorted(time_us for time_us in sent_us if now_us - WINDOW_US < time_us <= now_us)
    release, merge = _divide(sorted(rows, key=_order), max(0, rules.max_per_hour - len(recent_us)))
    next_us = None
    if merge:
        next_us = now_us
    elif len(release) < len(rows):
        next_us = _next_place_us([*recent_us, *[now_us] * len(release)], rules.max_per_hour)
    return _Share(release, merge, next_us)


def _divide(rows: Sequence[Waiting], places: int) -> tuple[Sequence[Waiting], Sequence[Waiting]]:
    """Part the rows, in their order, into those that leave and those that are merged; the rest wait."""
    if len(rows) <= places or not places:
        return rows[:places], ()
    overflows = sum(row.kind is NoticeKind.OVERFLOW for row in rows)
    others = len(rows) - overflows
    if overflows >= places or others < 2:
        return rows[:places], ()
    return rows[: places - 1], rows[places - 1 :]


def _next_place_us(taken_us: Sequence[int], max_per_hour: int) -> int:
    """When one message more is allowed; ``taken_us`` rises and has ``max_per_hour`` entries or more."""
    return taken_us[len(taken_us) - max_per_hour] + WINDOW_US


def _order(row: Waiting) -> tuple[int, int, int]:
    return urgency(row.kind, row.priority), row.created_us, row.row_id


def _oldest_first(rows: Iterable[Waiting]) -> tuple[int, ...]:
    return tuple(row.row_id for row in sorted(rows, key=lambda row: (row.created_us, row.row_id)))


def backoff_s(attempt: int, unit_random: float) -> float:
    """The pause after a failed attempt to deliver, seconds: exponential with full jitter, never below 5 s.

    Args:
        attempt: number of attempts that failed, 1 or more.
        unit_random: a random number from 0 up to 1: a house full of daemons must not knock all at once.

    >>> [backoff_s(attempt, 0.5) for attempt in (1, 2, 6, 10, 1000)]
    [7.5, 12.5, 162.5, 1802.5, 1802.5]
    """
    ceiling_s = min(LONGEST_PAUSE_S, SHORTEST_PAUSE_S * 2.0 ** min(attempt, 12))
    return SHORTEST_PAUSE_S + unit_random * (ceiling_s - SHORTEST_PAUSE_S)
