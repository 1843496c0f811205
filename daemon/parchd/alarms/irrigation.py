"""Does a zone need water? Judged on the readings that decide."""

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

from parchd.alarms.condition import NORMAL, Change, Condition, advance
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.polls import Poll, least_votes, poll_words, zone_kpa
from parchd.alarms.rules import AlarmKind, IrrigationRule
from parchd.clock import US_PER_S
from parchd.contract import JsonValue


class Vote(NamedTuple):
    """The last deciding reading of a tensiometer.

    Args:
        time_us, tension_kpa: when, and what it read.
        held_kpa: what must be low before an alarm clears, where that is more: it fell and nothing explains why.
    """

    time_us: int
    tension_kpa: float
    held_kpa: float | None = None

    @property
    def clearing_kpa(self) -> float:
        """What it says where an alarm is to clear.

        >>> Vote(0, 5.0, 60.0).clearing_kpa, Vote(0, 5.0).clearing_kpa
        (60.0, 5.0)
        """
        return self.tension_kpa if self.held_kpa is None else max(self.tension_kpa, self.held_kpa)

    def held_at_least(self, kpa: float | None) -> "Vote":
        """The same vote, that clears nothing above ``kpa``."""
        held_kpa = max(known, default=None) if (known := [v for v in (self.held_kpa, kpa) if v is not None]) else None
        return self._replace(held_kpa=held_kpa)


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

    The zone's tension is made of the fresh votes, by the way of the rule. A limit is reached at its value (``>=``) and
    left at its value less the deadband (``<=``). A tensiometer that fell silent or failed keeps its last vote in a
    second tension, the one that must also be low before an alarm clears: a dying sensor never clears an alarm. Nor does
    one whose tension fell without a reason: there its vote counts with what it read before.
    """
    votes = {**state.votes, tensiometer: vote}
    fresh = _fresh(rule, votes, vote.time_us)
    raising_kpa = clearing_kpa = _tension_kpa(rule, fresh)
    levels = dict(state.levels)
    for condition in levels.values():
        if condition.phase.is_active:
            every = (fresh, votes) if len(fresh) < len(votes) else (fresh,)
            clearing_kpa = max(raising_kpa, *(_clearing_kpa(rule, some) for some in every))
            break
    enough = len(fresh) >= max(rule.min_trusted, least_votes(rule.way))
    events = []
    for kind, limit_kpa in rule.limits:
        levels[kind], change = advance(
            before := levels.get(kind, NORMAL),
            rule.delays,
            on=raising_kpa >= limit_kpa and enough,
            off=clearing_kpa < limit_kpa and clearing_kpa <= limit_kpa - rule.deadband_kpa,
            time_us=vote.time_us,
        )
        if change is not None:
            raised_us = vote.time_us if change is Change.RAISED else before.raised_us
            assert raised_us is not None
            count = len(rule.tensiometers)
            evidence: dict[str, JsonValue] = {
                "tensiometers": len(fresh), "of": count, "vote": poll_words(rule.way, count),
            }  # fmt: skip
            key = AlarmKey(kind, rule.subject)
            events.append(AlarmEvent(key, change, vote.time_us, raised_us, raising_kpa, limit_kpa, evidence))
    return ZoneState(votes, levels), events


def zone_tensions(rule: IrrigationRule, state: ZoneState, time_us: int) -> tuple[float, float] | None:
    """The tension that a zone votes for now, and the one that must be low before an alarm clears, kPa.

    ``None``: too few of its votes are fresh.
    """
    fresh = _fresh(rule, state.votes, time_us)
    if len(fresh) < max(rule.min_trusted, least_votes(rule.way)):
        return None
    kpa = _tension_kpa(rule, fresh)
    return kpa, max(kpa, _clearing_kpa(rule, state.votes))


def _fresh(rule: IrrigationRule, votes: Mapping[str, Vote], time_us: int) -> Mapping[str, Vote]:
    oldest_us = time_us - rule.fresh_s * US_PER_S
    if min([vote.time_us for vote in votes.values()], default=oldest_us) >= oldest_us:
        return votes
    return {name: vote for name, vote in votes.items() if vote.time_us >= oldest_us}


def _tension_kpa(rule: IrrigationRule, votes: Mapping[str, Vote]) -> float:
    """Asked with every deciding reading: most zones vote by the median, which needs no names."""
    if rule.way is Poll.MEDIAN:
        return median([vote.tension_kpa for vote in votes.values()])
    return zone_kpa(rule.way, {name: vote.tension_kpa for name, vote in votes.items()}, rule.stations)


def _clearing_kpa(rule: IrrigationRule, votes: Mapping[str, Vote]) -> float:
    return zone_kpa(rule.way, {name: vote.clearing_kpa for name, vote in votes.items()}, rule.stations)
