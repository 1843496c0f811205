"""Another unit, told by noise: a level and what it shakes by became a multiple at once, and no neighbour shakes so.

Water, a shift and an empty tube leave the noise of the transducer and of its line as it was. A factor takes it along,
however far from a round number noise or drying soil has brought the level itself.
"""

import math
from collections.abc import Iterator

from parchd.diagnosis import frost, scale
from parchd.diagnosis.evidence import drops_out, was_empty
from parchd.diagnosis.factors import CHANGED_BY, FACTORS
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look
from parchd.words import noted

JUDGED_H, BEFORE_H, NEAR_H = 12, 24, 3
"""Hours since the step, hours before it that tell its noise, and hours at each side that tell its level."""
LEVEL_LOG, NOISE_LOG, OTHERS_LOG = 0.3, 0.35, 0.5
"""How far from the factor level and noise may lie, and how far the noise of the others from what it was: logarithms."""
KNOWN, ROUGH_KPA, STEPS = 0.7, 0.01, 2.5
LEAST_LOG = min(abs(math.log(factor)) for factor in FACTORS) - LEVEL_LOG


def watch(look: Look) -> Iterator[Case]:
    """Look half a day back for a step."""
    since = look.hour - JUDGED_H
    level_log = _level_log(look.standing, since) if _steps(look.standing, since) else NAN
    if not abs(level_log) >= LEAST_LOG or look.has(FindingKind.WRONG_UNIT, FindingKind.BYTE_ORDER):
        return
    noise_log = _noise_log(look.standing, since, look.hour)
    factor = min(FACTORS, key=lambda one: abs(math.log(one) - level_log) + abs(math.log(one) - noise_log))
    level_off, noise_off = level_log - math.log(factor), noise_log - math.log(factor)
    if not (abs(level_off) <= LEVEL_LOG and abs(noise_off) <= NOISE_LOG) or _may_be_else(look, since, factor):
        return
    look.standing.notes[scale.FOUND] = FindingKind.WRONG_UNIT.value
    facts = (
        Fact(CHANGED_BY, factor),
        Fact("told by", noted("noise that changed with it")),
        Fact("hours", JUDGED_H),
    )
    yield Case(FindingKind.WRONG_UNIT, since * HOUR_US, 0.9, facts)


def _steps(standing: Standing, since: int) -> bool:
    """Whether it is worth looking: seldom does a signal become a multiple within some hours."""
    before, after = standing.hours.at("raw_low", since - 2), standing.hours.at("raw_low", since + 2)
    return not (before and after and 1.0 / STEPS < after / before < STEPS)


def _may_be_else(look: Look, since: int, factor: float) -> bool:
    """Whether a hand, a wire, ice, air in the tube or the supply may have done it.

    What is left of a broken column shakes less, too, and next to nothing soon becomes a multiple.
    """
    is_opened = since - BEFORE_H < look.standing.since
    if is_opened or was_empty(look, factor) or drops_out(look) or frost.was_cold(look):
        return True
    return _others_changed(look, since)


def _level_log(standing: Standing, since: int) -> float:
    """Logarithm of what its signal became by the step; NaN: not known, or another sign."""
    before, after = (_level(standing, begin) for begin in (since - NEAR_H, since + 1))
    return math.log(after / before) if before and after and after / before > 0.0 else NAN


def _level(standing: Standing, begin: int) -> float:
    lows, highs = (standing.hours.column(name, begin, begin + NEAR_H) for name in ("raw_low", "raw_high"))
    middles = known((low + high) / 2.0 for low, high in zip(lows, highs, strict=True))
    return middle(middles) if middles else NAN


def _noise_log(standing: Standing, since: int, last: int) -> float:
    """Logarithm of what its noise became; NaN: too little is known."""
    before = known(standing.hours.column("rough_kpa", since - BEFORE_H, since - 1))
    after = known(standing.hours.column("rough_kpa", since + 1, last + 1))
    if len(before) < KNOWN * BEFORE_H or len(after) < KNOWN * (last - since):
        return NAN
    usual_kpa, now_kpa = middle(before), middle(after)
    return math.log(now_kpa / usual_kpa) if max(usual_kpa, now_kpa) >= ROUGH_KPA and now_kpa and usual_kpa else NAN


def _others_changed(look: Look, since: int) -> bool:
    """Whether the others of its source, or of its zone, do not shake as they did; so too if none tells."""
    others = known(_noise_log(one, since, look.hour) for one in look.neighbours.source or look.neighbours.zone)
    return not others or abs(middle(others)) > OTHERS_LOG
