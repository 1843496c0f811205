"""Does a zone need water? Judged on the readings that decide."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

from parchd.alarms.condition import NORMAL, Change, Condition, advance
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind, IrrigationRule
from parchd.clock import US_PER_S
from parchd.contract import JsonValue


class Vote(NamedTuple):
    """The last deciding reading of a tensiometer."""

    time_us: int
    tension_kpa: float


@dataclass(frozen=True, slots=True)
class ZoneState:
    """What is known of the ground one rule speaks of: votes by tensiometer, conditions by level."""

    votes: Mapping[str, Vote]
    levels: Mapping[AlarmKind, Condition]


EMPTY = ZoneState({}, {})


def judge_zone(
    rule: IrrigationRule, state: ZoneState, tensiometer: str, vote: Vote
) -> tuple[ZoneState, list[AlarmEvent]]:
    """Take one deciding reading of one tensiometer of the rule.

    The zone's tension is the median of the fresh votes. A limit is reached at its value (``>=``) and left at its
    value less the deadband (``<=``). A tensiometer that fell silent or failed keeps its last vote in the second
    median, the one that must also be low before an alarm clears: a dying sensor never clears an alarm.
    """
    votes = {**state.votes, tensiometer: vote}
    oldest_us = vote.time_us - rule.fresh_s * US_PER_S
    fresh = [tension_kpa for time_us, tension_kpa in votes.values() if time_us >= oldest_us]
    raising_kpa = clearing_kpa = median(fresh)
    if len(fresh) < len(votes):
        clearing_kpa = max(raising_kpa, median(tension_kpa for _, tension_kpa in votes.values()))
    levels = dict(state.levels)
    events = []
    for kind, limit_kpa in rule.limits:
        levels[kind], change = advance(
            before := levels.get(kind, NORMAL),
            rule.delays,
            on=raising_kpa >= limit_kpa and len(fresh) >= rule.min_trusted,
            off=clearing_kpa < limit_kpa and clearing_kpa <= limit_kpa - rule.deadband_kpa,
            time_us=vote.time_us,
        )
        if change is not None:
            raised_us = vote.time_us if change is Change.RAISED else before.raised_us
            assert raised_us is not None
            evidence: dict[str, JsonValue] = {"tensiometers": len(fresh), "of": len(rule.tensiometers)}
            key = AlarmKey(kind, rule.subject)
            events.append(AlarmEvent(key, change, vote.time_us, raised_us, raising_kpa, limit_kpa, evidence))
    return ZoneState(votes, levels), events
