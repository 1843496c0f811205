"""A value that stays one and the same number while the soil, the air and the noise do not."""

from collections.abc import Iterator

from parchd.clock import US_PER_S
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.frost import was_cold
from parchd.diagnosis.hours import HOUR_US, Hours, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, Over

LONGEST, LEARNT_H = "stuck.longest_s", "stuck.learnt_h"

LEAST_H, LEAST_SAMPLES = 6.0, 12
"""Less is no evidence, however restless it was before."""
RESTLESS_FACTOR, CALM_FACTOR = 8.0, 3.5
"""How many times the longest run before: noise makes runs of a few samples, calm ground runs of hours."""
NOISY_SAMPLES = 4
"""Noise changes the number at least so often, also where the ground is still."""
CALM_S = 2 * 3600.0
LEARN_H = 72
UNLEARNT_H, UNLEARNT_CALM_H = 48.0, 72.0
ALONE_H = 24.0
"""Added where neither its own past nor a neighbour says that it should have moved; of soil that water has filled since
its own past says nothing."""
WET_KPA, WET_H = 3.0, 30.0
"""Soil full of water may lie still for a day."""
MOVED_KPA = 1.0
DAYS, MOVES_KPA = 4, 0.5
"""It moved by so much in the same hours of each of so many days before, four steps of a coarse converter."""
GROWTH = 1.5


def watch(look: Look) -> Iterator[Case | Over]:
    """Compare how long it has not changed with how long it never changed before, and with what moved meanwhile."""
    standing, hour = look.standing, look.hour
    still_s = look.now.still_s
    if still_s != still_s:
        return
    if look.has(FindingKind.STUCK_VALUE):
        if still_s < LEAST_H * 1800.0 and not _flat(standing.hours, hour):
            yield Over(FindingKind.STUCK_VALUE, hour * HOUR_US)
        return
    run_h = still_s / 3600.0
    if run_h < LEAST_H:
        _learn(look, still_s)
        return
    since_us = standing.carry.since_us
    begun = since_us // HOUR_US
    if begun < standing.since or _samples(look, begun) < LEAST_SAMPLES:
        return
    longest_h = _number(standing, LONGEST) / 3600.0
    moved = _moved(look, begun)
    if not was_cold(look) and run_h >= _needed_h(look, longest_h, moved, begun):
        yield Case(FindingKind.STUCK_VALUE, since_us, 0.97 if moved else 0.85, _facts(look, since_us, longest_h, moved))


def _flat(hours: Hours, hour: int) -> bool:
    """Whether it did not move within the hour; a single sample is compared with the hour before."""
    first = hour if hours.at("good", hour) > 1.0 else hour - 1
    high, low = (known(hours.column(name, first, hour + 1)) for name in ("high_kpa", "low_kpa"))
    return bool(high) and max(high) == min(low)


def _learn(look: Look, still_s: float) -> None:
    """Keep the longest run of one number; a single long one stretches it only a little."""
    notes = look.standing.notes
    learnt_h = _number(look.standing, LEARNT_H)
    if learnt_h < LEARN_H:
        notes[LEARNT_H] = learnt_h + 1.0
    ended_s = _ended_run_s(look, still_s)
    longest_s = _number(look.standing, LONGEST)
    if ended_s > longest_s:
        limit_s = max(GROWTH * longest_s, CALM_S + 1.0) if learnt_h >= LEARN_H else ended_s
        notes[LONGEST] = round(min(ended_s, limit_s))


def _ended_run_s(look: Look, still_s: float) -> float:
    """The run that ended within the hour, as long as it was at its begin; 0: none that is worth counting."""
    before_s = look.standing.hours.at("still_s", look.hour - 1)
    return before_s if before_s > still_s and look.hour > look.standing.since else 0.0


def _number(standing: Standing, word: str) -> float:
    value = standing.notes.get(word, 0.0)
    return float(value) if isinstance(value, int | float) else 0.0


def _samples(look: Look, begun: int) -> float:
    return sum(known(look.past("good", look.hour - begun + 1)))


def _needed_h(look: Look, longest_h: float, moved: list[Standing], begun: int) -> float:
    """How long a run must be before it is more than calm."""
    restless = longest_h * 3600.0 <= NOISY_SAMPLES * look.instrument.interval_s
    factor = RESTLESS_FACTOR if restless else CALM_FACTOR
    needed_h = max(LEAST_H, factor * longest_h)
    if _number(look.standing, LEARNT_H) < LEARN_H:
        needed_h = max(needed_h, UNLEARNT_H if restless else UNLEARNT_CALM_H)
    wet = look.standing.hours.at("mean_kpa", look.hour) < WET_KPA
    own = (restless or not wet) and _restless_before(look, begun)
    if wet and not restless:
        needed_h = max(needed_h, WET_H)
    if not own and not moved and not (restless and not wet):
        needed_h += ALONE_H
    return needed_h


def _restless_before(look: Look, begun: int) -> bool:
    """Whether it moved in the same hours of each of the days before."""
    length = look.hour - begun + 1
    span_h = min(length, 24)
    for day in range(1 + (length - 1) // 24, 1 + (length - 1) // 24 + DAYS):
        until = look.hour - 24 * day
        high, low = known(look.past("high_kpa", span_h, until=until)), known(look.past("low_kpa", span_h, until=until))
        if not high or max(high) - min(low) < MOVES_KPA:
            return False
    return True


def _moved(look: Look, begun: int) -> list[Standing]:
    """Neighbours that went somewhere meanwhile, not only to and fro with the day."""
    near = (*look.neighbours.station, *look.neighbours.level)
    return [n for n in near if look.trusts(n) and _range_kpa(n, begun, look.hour) >= MOVED_KPA]


def _range_kpa(standing: Standing, begun: int, hour: int) -> float:
    high, low = (known(standing.hours.column(name, begun, hour + 1)) for name in ("high_kpa", "low_kpa"))
    return max(high) - min(low) if high else 0.0


def _facts(look: Look, since_us: int, longest_h: float, moved: list[Standing]) -> tuple[Fact, ...]:
    hours = look.standing.hours
    facts = (
        Fact("one and the same number since", since_us, "time"),
        Fact("for", (look.now_us - since_us) / US_PER_S / 3600.0, "h"),
        Fact("reads", hours.at("last_kpa", look.hour), "kPa"),
        Fact("longest before", longest_h, "h"),
    )
    if not moved:
        return facts
    most = max(moved, key=lambda n: _range_kpa(n, since_us // HOUR_US, look.hour))
    moved_kpa = _range_kpa(most, since_us // HOUR_US, look.hour)
    return (*facts, Fact("one that moved meanwhile", most.instrument.name), Fact("it moved by", moved_kpa, "kPa"))
