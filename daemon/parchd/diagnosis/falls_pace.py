"""What falls of tension tell of a clogged cup: through it every one is slow, and ever slower."""

from collections.abc import Sequence
from math import exp, hypot, log
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.suspects import slow_forms

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

FRONT_H, ALONE_H = 3.0, 4.0
"""A wetting front passes in so many hours, without neighbours that would show how long it took."""
SD, ALONE_SD = 0.5, 0.8
"""How much falls of a sound cup differ from that: of the logarithm."""
LEAST_TIMES, MOST_TIMES = 1.0, 4.0
"""How many times longer than at the neighbours it may take at a sound cup by its place."""
MOST = 3.0
"""One fall tells no more: it may have been an odd one."""


class Pace(NamedTuple):
    """One fall: days after the first block, its time constant, and the neighbours' in the same wetting (0: none)."""

    day: float
    relax_h: float
    others_h: float


def pace_of(falls: Sequence[Pace], begins: Sequence[int]) -> "Floats":
    """Give how much better a clogged cup explains the falls than a sound one: logarithms, by begin and form."""
    import numpy as np

    return np.array([[_better(falls, begin, *form) for form in slow_forms()] for begin in begins])


def _better(falls: Sequence[Pace], begin: int, weeks: float, hours: float) -> float:
    before = [one.relax_h / max(one.others_h, FRONT_H) for one in falls if one.day < begin]
    times = exp(sum(log(min(max(one, LEAST_TIMES), MOST_TIMES)) for one in before) / len(before)) if before else 1.0
    return min(1.0, 0.5 + 0.25 * len(before)) * sum(
        _of_one(one, times, hours * min((one.day - begin) / (7.0 * weeks), 1.0)) for one in falls if one.day >= begin
    )


def _of_one(fall: Pace, times: float, tau_h: float) -> float:
    alone = fall.others_h <= 0.0
    sound_h = times * (ALONE_H if alone else max(fall.others_h, FRONT_H))
    sd = ALONE_SD if alone else SD
    sound, slow = (log(max(fall.relax_h, 0.1) / one) / sd for one in (sound_h, hypot(sound_h, tau_h)))
    return min(max(0.5 * (sound * sound - slow * slow), -MOST), MOST)
