"""Soil that is full of water, and free water above a cup: events, no faults."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.findings import Event, Fact
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.diagnosis.verdict import Look

_UNTRUE = (
    FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP, FindingKind.LEVEL_SHIFT,
    FindingKind.ZERO_DRIFT, FindingKind.STUCK_VALUE, FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT,
    FindingKind.AIR_LEAK,
)  # fmt: skip
EMPTY_KPA = 0.7
"""So near to minus its head, a tube may just as well be empty."""
LEAST_HEAD_KPA = 1.0
CM_PER_KPA = 10.2


class State(NamedTuple):
    """A state of the soil that is told when it has held for some hours.

    Args:
        kind: of the event.
        below_kpa: tension at and below which it holds.
        until_kpa: tension above which it is over: zeros drift a little.
        hours: how long it must hold; gaps count where it held before and after.
        note: where its first hour is kept while it holds.
    """

    kind: EventKind
    below_kpa: float
    until_kpa: float
    hours: int
    note: str


STATES = (
    State(EventKind.SATURATION, 1.0, 1.5, 24, "saturation.saturation"),
    State(EventKind.POSITIVE_PRESSURE, -1.0, -0.5, 4, "saturation.positive-pressure"),
)

DRY_KPA = max(state.below_kpa for state in STATES)


def watch(look: Look) -> Iterable[Event]:
    """Tell when saturation or free water begins to count, and when it is over."""
    now_kpa, notes = look.now.mean_kpa, look.standing.notes
    if now_kpa != now_kpa:
        return ()
    if now_kpa > DRY_KPA and STATES[0].note not in notes and STATES[1].note not in notes:
        return ()
    return _judge(look, now_kpa)


def _judge(look: Look, now_kpa: float) -> Iterator[Event]:
    for state in STATES:
        note = state.note
        start = look.standing.notes.get(note)
        if isinstance(start, int):
            if now_kpa > state.until_kpa or look.has(*_UNTRUE):
                del look.standing.notes[note]
                yield _event(look, state, start, look.hour)
        elif now_kpa <= state.below_kpa and _holds(look, state):
            look.standing.notes[note] = look.hour - state.hours + 1
            yield _event(look, state, look.hour - state.hours + 1, None)


def _holds(look: Look, state: State) -> bool:
    past = look.past("mean_kpa", state.hours)
    return (
        past[0] == past[0]
        and len(known(past)) >= 0.5 * state.hours
        and not any(value > state.below_kpa for value in past)
        and not look.has(*_UNTRUE)
        and not _may_be_empty(look, past)
    )


def _may_be_empty(look: Look, past: list[float]) -> bool:
    head_kpa = look.instrument.head_kpa
    return head_kpa >= LEAST_HEAD_KPA and all(abs(value + head_kpa) < EMPTY_KPA for value in known(past))


def _event(look: Look, state: State, start: int, end: int | None) -> Event:
    lowest_kpa = min(known(look.past("low_kpa", look.hour + 1 - start)), default=state.below_kpa)
    facts = [Fact("lowest tension", lowest_kpa, "kPa"), Fact("for", float((end or look.hour + 1) - start), "h")]
    if state.kind is EventKind.POSITIVE_PRESSURE:
        facts.append(Fact("free water above the cup", -lowest_kpa * CM_PER_KPA, "cm"))
    end_us = None if end is None else end * HOUR_US
    details: dict[str, JsonValue] = {"tensiometer": look.instrument.name, "lowest_kpa": lowest_kpa}
    return Event(state.kind, look.instrument.subject, start * HOUR_US, end_us, tuple(facts), details)
