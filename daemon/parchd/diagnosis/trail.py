"""How far a tensiometer trails a neighbour when water comes: the low pass that turns the neighbour's course into its.

Through a clogged cup tension follows the soil's with one time constant, whatever the soil does. Both courses are taken
as running means of a day, which carry nothing of the daily ripple; to means a low pass does the same as to what they
are made of. Level and scale are free, for one station is drier than the other.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

HALF_DAY_H, EVERY_H = 12, 12
BACK_H, AHEAD_H = 36, 84
"""What is compared: so long before and after the hour in which the neighbour's mean fell fastest."""
WARM_H = 240
"""A low pass must run so long before that."""
LAG_H = AHEAD_H + HALF_DAY_H
"""So long after that hour it can be measured."""
SPAN_H = WARM_H + BACK_H + HALF_DAY_H + EVERY_H + LAG_H
FELL_LOG, FELL_KPA, APART_H = 0.3, 2.5, 18
"""From one day to the next the neighbour falls by so much, and by less at any hour so near."""
WET_KPA = 2.0
KNOWN = 0.8
SOUND_H, SLOW_H = (1.0, 3.0, 6.0, 10.0), (15.0, 22.0, 32.0, 45.0, 65.0)
"""Time constants of sound cups, their soil's included, and of clogged ones."""
STEP_H = 3
NOISE_KPA = 0.05


class Trail(NamedTuple):
    """One wetting.

    Args:
        hour: in which the neighbour fell fastest.
        tau_h: the time constant that fits best.
        gain: how much better a slow one fits than a sound one: logarithm of mean squares.
        slope: by how much more than the neighbour it moved.
        left: share of its variance that the best fit leaves.
    """

    hour: int
    tau_h: float
    gain: float
    slope: float
    left: float


def trail(own: Sequence[float], near: Sequence[float], last: int) -> Trail | None:
    """Measure the wetting in which a neighbour fell fastest `LAG_H` hours ago or up to `EVERY_H` hours before.

    Args:
        own, near: tension in the last `SPAN_H` hours, kPa, NaN where it is not known.
        last: number of the last hour.

    Returns:
        ``None`` if no water came, or too little is known.
    """
    import numpy as np

    x, y = np.array(near), np.array(own)
    seen = np.isfinite(x)
    if seen.sum() < KNOWN * SPAN_H:
        return None
    x = _filled(x)
    at = _fell(_means(x))
    if at is None:
        return None
    here = slice(at - BACK_H, at + AHEAD_H)
    if min(seen[here].mean(), np.isfinite(y[here]).mean()) < KNOWN:
        return None
    target = _means(_filled(y))[here][::STEP_H]
    courses = _means(_low_pass(x, np.array(SOUND_H + SLOW_H)))
    fits = [_fitted(target, course[here][::STEP_H]) for course in courses]
    left = [one[0] for one in fits]
    best, sound = int(np.argmin(left)), len(SOUND_H)
    gain = float(np.log(min(left[:sound]) / min(left[sound:])))
    share = left[best] / (float(target.var()) + NOISE_KPA**2)
    return Trail(last - len(x) + 1 + at, (SOUND_H + SLOW_H)[best], gain, fits[best][1], share)


def _filled(values: "Floats") -> "Floats":
    import numpy as np

    known = np.flatnonzero(np.isfinite(values))
    found: Floats = np.interp(np.arange(len(values)), known, values[known])
    return found


def _means(courses: "Floats") -> "Floats":
    """Take running means of a day along the last axis, centred; half a day at each end stays what it is."""
    import numpy as np

    total = np.cumsum(courses, axis=-1)
    found = courses.copy()
    found[..., HALF_DAY_H:-HALF_DAY_H] = (total[..., 2 * HALF_DAY_H :] - total[..., : -2 * HALF_DAY_H]) / 24.0
    return found


def _fell(means: "Floats") -> int | None:
    """Find the place at which it fell fastest, among the hours that are looked at now."""
    import numpy as np

    last = len(means) - 1 - LAG_H
    around = np.arange(last - EVERY_H + 1 - APART_H, last + APART_H + 1)
    logs = np.log(np.maximum(means, -1.0) + WET_KPA)
    fall = logs[around - HALF_DAY_H] - logs[around + HALF_DAY_H]
    top = APART_H + int(np.argmax(fall[APART_H : APART_H + EVERY_H]))
    at = int(around[top])
    is_top = fall[top] >= fall[top - APART_H : top + APART_H + 1].max()
    fell_kpa = means[at - HALF_DAY_H] - means[at + HALF_DAY_H]
    return at if is_top and fall[top] >= FELL_LOG and fell_kpa >= FELL_KPA else None


def _low_pass(course: "Floats", taus_h: "Floats") -> "Floats":
    """Let a course through, once for each time constant."""
    import numpy as np

    share = -np.expm1(-1.0 / taus_h)
    found = np.empty((len(taus_h), len(course)))
    state = np.full(len(taus_h), course[0])
    for hour, value in enumerate(course):
        state = state + share * (value - state)
        found[:, hour] = state
    return found


def _fitted(own: "Floats", course: "Floats") -> tuple[float, float]:
    """Move and stretch a course so that it fits best: the mean square that is left, and the stretch, 0 at least."""
    y, x = own - own.mean(), course - course.mean()
    slope = max(float(x @ y) / max(float(x @ x), 1e-9), 0.0)
    off = y - slope * x
    return float(off @ off) / len(own) + NOISE_KPA**2, slope
