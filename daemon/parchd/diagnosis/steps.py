"""Is a change of tension a step, within one sample, or only steep?"""

from itertools import pairwise

from parchd.diagnosis.hours import known
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle

SHARP_SHARE = 0.7
"""Of the step within one hour, beyond what the hours around change: water takes longer, and bends."""
STANDS_OUT = 2.5
"""How many times the largest change of the hours around: dry soil may dry by several kilopascals an hour."""
BACK = 0.5
"""It is a spike, or leads back from one, if so much of it goes the other way in the hour after, or before."""
FINE_S, BENDS = 1800.0, 0.8
"""A step bends the course by once or twice its size, all samples of an hour together."""


def jump(standing: Standing, hour: int) -> float:
    """How far the last reading of an hour lies from the last of the hour before; NaN: not known."""
    return standing.hours.at("last_kpa", hour) - kpa_before(standing, hour)


def kpa_before(standing: Standing, hour: int) -> float:
    """The last reading before an hour, of the hour before or of the one before that; NaN: both are silent."""
    before_kpa = standing.hours.at("last_kpa", hour - 1)
    return before_kpa if before_kpa == before_kpa else standing.hours.at("last_kpa", hour - 2)


def bridged(standing: Standing, begin: int, end: int) -> list[float]:
    """Give the last readings of hours; one that is silent by itself keeps what was read before it."""
    last = standing.hours.column("last_kpa", begin - 1, end)
    return [now if now == now else before for before, now in pairwise(last)]


def is_step(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether a change of this size came within an hour, wherever the hour begins, and stands out from those around."""
    last = standing.hours.column("last_kpa", hour - 4, hour + 4)
    changes = [late - early for early, late in pairwise(last)]
    around = known((*changes[:2], *changes[5:]))
    trend = middle(around) if around else 0.0
    steps = known((changes[3] - trend, changes[3] + changes[2] - 2.0 * trend, changes[3] + changes[4] - 2.0 * trend))
    if not abs(size_kpa) > 0.0 or min(change / size_kpa for change in changes[2:5:2]) <= -BACK:
        return False
    if not any(SHARP_SHARE <= step / size_kpa <= 2.0 - SHARP_SHARE for step in steps):
        return False
    return abs(size_kpa) >= STANDS_OUT * max(map(abs, around), default=0.0) and is_sharp(standing, hour, size_kpa)


def is_sharp(standing: Standing, hour: int, size_kpa: float, bends: float = BENDS, usual_kpa: float = 0.0) -> bool:
    """Whether its hours bend as a step does, not as a steep rise; also where an hour has too few samples.

    Args:
        bends: by how many times its size.
        usual_kpa: what a sample bends by anyway.
    """
    if standing.instrument.interval_s > FINE_S:
        return True
    rough, good = (standing.hours.column(name, hour - 1, hour + 2) for name in ("rough_kpa", "good"))
    bent = known((bend - usual_kpa) * count for bend, count in zip(rough, good, strict=True))
    return sum(bent) >= bends * abs(size_kpa)
