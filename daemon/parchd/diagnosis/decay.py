"""Water that is lost slowly: the vacuum leaks away evenly, by day and by night."""

from itertools import pairwise
from math import log

from parchd.diagnosis.dry_around import dry_neighbours, sees_above
from parchd.diagnosis.findings import Fact, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall
from parchd.diagnosis.tube import OFFSETS, fall_facts
from parchd.diagnosis.verdict import Case, Look

DECAY_H = ((32, 1), (16, 2))
"""Hours since it began to fall, and how many neighbours must have stayed dry: water reaches stations hours apart, and a
little of it takes more than a day to come to rest."""
ENOUGH = 2
"""So many must tell, however long, where the soil above it cannot: water may have come down there alone."""
DECAY_LEFT = 0.6
DECAY_EVEN = 1.7
"""The largest share of its vacuum that went in a quarter of the time, in terms of the least: leaks differ little."""
SAME_H = 3
CURVE_SHARE, CURVE_KPA = 0.08, 0.8
LATELY_H, LATELY_SHARE = 4, 0.75
"""In its last hours it must lose so much of what it lost as a rule."""


def decaying(look: Look) -> Case | None:
    """The vacuum leaks away evenly, by day and by night, while no neighbour gets water."""
    fall = look.standing.falls[-1] if look.standing.falls else None
    if fall is None or fall.over or fall.explained:
        return None
    if look.has(*(kind for kind in OFFSETS if kind is not FindingKind.LEVEL_SHIFT)) or _is_shifted(look, fall):
        return None
    age_h = look.hour - fall.begin
    fewest = next((few for hours, few in DECAY_H if hours <= age_h), None)
    if fewest is None:
        return None
    past = look.past("mean_kpa", age_h)
    lost = _even_loss(past, look.instrument.head_kpa) if len(known(past)) >= 0.8 * age_h else None
    seen = dry_neighbours(look, fall) if lost is not None else []
    if lost is None or len(seen) < fewest or (len(seen) < ENOUGH and not sees_above(look)):
        return None
    facts = (
        *fall_facts(fall),
        Fact("vacuum lost", 100.0 * lost, "%"),
        Fact("within", float(age_h), "h"),
        Fact("neighbours that stayed dry", len(seen)),
    )
    return Case(FindingKind.LOST_WATER, fall.begin * HOUR_US, 0.85, facts)


def _is_shifted(look: Look, fall: Fall) -> bool:
    """Whether its level had shifted before it began to fall: a step with which the loss began is part of it."""
    found = look.state.findings.get(FindingKey(FindingKind.LEVEL_SHIFT, look.instrument.subject))
    return found is not None and fall.begin - hour_of(found.start_us) > SAME_H


def _even_loss(past: list[float], head_kpa: float) -> float | None:
    """Share of the vacuum that went, if it went as through a leak: evenly, and fastest at once.

    Water that comes goes slowly at first, then fast, then slowly.
    """
    size = len(past) - 1
    vacua = [past[size * part // 4] + head_kpa for part in range(5)]
    if not all(vacuum > 0.3 for vacuum in vacua) or vacua[4] > DECAY_LEFT * vacua[0] or past[0] - past[-1] < 3.0:
        return None
    drops = [early - late for early, late in pairwise(vacua)]
    shares = [drop / vacuum for drop, vacuum in zip(drops, vacua, strict=False)]
    if min(shares) <= 0.03 or max(shares) > DECAY_EVEN * min(shares):
        return None
    slower = all(late <= 1.05 * early for early, late in pairwise(drops))
    leaks = slower and _goes_on(past, vacua[0], vacua[4]) and _is_on_the_curve(past, head_kpa)
    return 1.0 - vacua[4] / vacua[0] if leaks else None


def _is_on_the_curve(past: list[float], head_kpa: float) -> bool:
    """Whether it never strayed from what goes by the same share in every hour; water comes in pushes."""
    first_kpa, size = past[0] + head_kpa, len(past) - 1
    left = (past[-1] + head_kpa) / first_kpa
    off = known(value + head_kpa - first_kpa * left ** (hour / size) for hour, value in enumerate(past))
    return max(map(abs, off)) <= CURVE_SHARE * first_kpa + CURVE_KPA


def _goes_on(past: list[float], first_kpa: float, last_kpa: float) -> bool:
    """Whether it is still falling: a slow one that water reached comes to rest."""
    usual_kpa = LATELY_H / (len(past) - 1) * log(first_kpa / last_kpa) * last_kpa
    return not past[-1 - LATELY_H] - past[-1] < LATELY_SHARE * usual_kpa
