"""What wettings tell of a clogged cup: through it every one is slow, and ever slower."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.suspects import slow_forms

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

SOUND_H, SLOW_H = 6.0, 15.0
"""A cup with the shorter time constant, or a shorter one, is told from a sound one by no wetting, and with the longer
one by every one."""
MOST = 3.0
"""One wetting tells no more: it may have been an odd one."""


class Pace(NamedTuple):
    """One wetting: days after the first block, and how much it speaks for a clogged cup: a natural logarithm."""

    day: float
    gain: float


def pace_of(wettings: Sequence[Pace], begins: Sequence[int]) -> "Floats":
    """Give how much better a clogged cup explains the wettings than a sound one: logarithms, by begin and form."""
    import numpy as np

    found = np.zeros((len(begins), len(slow_forms())))
    for one in wettings:
        found += min(max(one.gain, -MOST), MOST) * _tells(one.day, begins)
    return found


def _tells(day: float, begins: Sequence[int]) -> "Floats":
    """Give for each begin and form how much of what a wetting on a day tells concerns it."""
    import numpy as np

    weeks, hours = (np.array(column) for column in zip(*slow_forms(), strict=True))
    grown = np.clip((day - np.array(begins, dtype=float)[:, None]) / (7.0 * weeks), 0.0, 1.0)
    found: Floats = np.clip((hours * grown - SOUND_H) / (SLOW_H - SOUND_H), 0.0, 1.0)
    return found
