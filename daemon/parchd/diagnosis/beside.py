"""How a tensiometer goes with a neighbour: learned from how both move from day to day.

The logarithm of its tension is a parabola of the logarithm of the neighbour's. How far it lies from that wanders from
week to week, for one station gets more water than the other; yet while both dry it changes by a hundredth or two a day,
and only water changes it by more. So it is these steps that are learned from, and judged by.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.record import DAY

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]
    Rows = NDArray[bool_]

USUAL, USUAL_SD = (0.0, 1.0, 0.0), (0.5, 0.25, 0.15)
"""Coefficients of the parabola around 8 kPa, and how much stations differ in them."""
STAYS = 0.97
"""Share of today's distance that is still there tomorrow."""
STEP, STEP_WEIGHT = 0.015, 12.0
"""A dry day's step beforehand, and what that counts in days."""
FALLS, WET, AFTER = -0.05, 8.0, 4.0
"""A day on which either falls by so much is wet; how much longer steps are on it, and on the day after it."""
TAIL = 3.0
"""Degrees of freedom: now and then a step is far longer (Student's distribution)."""
WEIGHT = 0.4
"""Steps of neighbouring days are alike: each tells less than if it stood alone."""
KNOWN_BLOCKS = 3
CENTRE, WET_KPA = 2.3, 2.0
ROUNDS = 4


class Days(NamedTuple):
    """Both courses, day by day.

    Args:
        own: logarithms, means of days.
        basis: 1, the neighbour's logarithm, and its square: means of days.
        blocks: the same by the block, gaps filled.
        counted: blocks in which both are known, by day.
        steps: numbers of the steps between two known days.
        width: how long a step may be, in terms of a dry day's.
    """

    own: "Floats"
    basis: "Floats"
    blocks: "Floats"
    counted: "Rows"
    steps: "Rows"
    width: "Floats"

    def means(self, logarithms: "Floats") -> "Floats":
        """Take means of days, of the blocks that count."""
        import numpy as np

        rows = logarithms.reshape(*logarithms.shape[:-1], -1, DAY)
        found: Floats = np.where(self.counted, rows, 0.0).sum(axis=-1) / np.maximum(self.counted.sum(axis=1), 1)
        return found


class Relation(NamedTuple):
    """What the past says, with how sure that is.

    Args:
        centre: the three coefficients.
        unsure: their covariance.
        step: of a dry day.
    """

    centre: "Floats"
    unsure: "Floats"
    step: float


def compared(own: "Floats", near: "Floats") -> Days:
    """Lay two records side by side; blocks of which one is unknown count for nothing."""
    import numpy as np

    counted = (np.isfinite(own) & np.isfinite(near)).reshape(-1, DAY)
    blocks = basis_of(_filled(near))
    days = Days(np.empty(0), np.empty(0), blocks, counted, np.empty(0, dtype=np.bool_), np.empty(0))
    y = days.means(np.where(counted.ravel(), logarithm(own), 0.0))
    basis = days.means(blocks.T).T
    enough = counted.sum(axis=1) >= KNOWN_BLOCKS
    steps = enough[1:] & enough[:-1]
    wet = np.minimum(np.diff(y), np.diff(basis[:, 1])) < FALLS
    after = np.append(False, wet[:-1] | ~steps[:-1])
    return days._replace(own=y, basis=basis, steps=steps, width=np.where(wet, WET, np.where(after, AFTER, 1.0)))


def steps_of(days: "Floats") -> "Floats":
    """Give by how much each day's value is off what yesterday's leads to expect, along the last axis."""
    return days[..., 1:] - STAYS * days[..., :-1]


def learn(days: Days, first: int, last: int, before: Relation | None = None) -> Relation:
    """Weigh the steps into the days ``first < day < last`` against what is known before, or else what is usual."""
    return learn_each(days, [(first, last)], None if before is None else [before])[0]


def learn_each(
    days: Days, spans: Sequence[tuple[int, int]], before: Sequence[Relation] | None = None
) -> list[Relation]:
    """Do the same for several spans at once."""
    import numpy as np

    at = np.flatnonzero(days.steps)
    first, last = (np.array(column)[:, None] for column in zip(*spans, strict=True))
    counts = np.where((at + 1 > first) & (at + 1 < last), WEIGHT, 0.0)
    own, basis, width = steps_of(days.own)[at], steps_of(days.basis.T).T[at], days.width[at]
    known = (
        [Relation(np.array(USUAL), np.diag(np.array(USUAL_SD) ** 2), STEP)] * len(spans) if before is None else before
    )
    start, step = np.array([one.centre for one in known]), np.array([one.step for one in known])
    sure = np.linalg.inv(np.array([one.unsure for one in known]))
    pairs, pulls = (basis[:, :, None] * basis[:, None, :]).reshape(-1, 9), basis * own[:, None]
    centre, matrix = start, sure
    for _ in range(ROUNDS):
        wide = step[:, None] * width
        weight = counts * _trust((own - centre @ basis.T) / wide) / wide**2
        matrix = (weight @ pairs).reshape(-1, 3, 3) + sure
        right = weight @ pulls + (sure @ start[:, :, None])[:, :, 0]
        centre = np.linalg.solve(matrix, right[:, :, None])[:, :, 0]
        if before is None:
            off = (own - centre @ basis.T) / width
            squares = STEP_WEIGHT * STEP**2 + (counts * _trust(off / step[:, None]) * off * off).sum(axis=1)
            step = np.sqrt(squares / (STEP_WEIGHT + counts.sum(axis=1)))
    unsure = np.linalg.inv(matrix)
    return [Relation(centre[row], unsure[row], float(step[row])) for row in range(len(spans))]


def _trust(off: "Floats") -> "Floats":
    """Give how much a step counts for, the less the further off it is."""
    found: Floats = (TAIL + 1.0) / (TAIL + off * off)
    return found


def likely(off: "Floats", days: Days, step: "Floats") -> "Floats":
    """Give the logarithm of how likely steps are, all of them together.

    Args:
        off: steps, along the last axis.
        step: a dry day's, for each row of the other axes.
    """
    import numpy as np

    wide = step[..., None] * days.width
    each = -(TAIL + 1.0) / 2.0 * np.log1p((off / wide) ** 2 / TAIL) - np.log(wide)
    found: Floats = WEIGHT * np.where(days.steps, each, 0.0).sum(axis=-1)
    return found


def logarithm(kpa: "Floats") -> "Floats":
    import numpy as np

    found: Floats = np.log(np.maximum(kpa, -1.0) + WET_KPA) - CENTRE
    return found


def tension(logarithms: "Floats") -> "Floats":
    """Undo `logarithm`."""
    import numpy as np

    found: Floats = np.exp(logarithms + CENTRE) - WET_KPA
    return found


def basis_of(near: "Floats") -> "Floats":
    """Give 1, the logarithm and its square for each of the neighbour's tensions."""
    import numpy as np

    x = logarithm(near)
    return np.stack([np.ones_like(x), x, x * x], axis=1)


def _filled(values: "Floats") -> "Floats":
    """Put the last that was known where nothing is; the first one before it."""
    import numpy as np

    known = np.flatnonzero(np.isfinite(values))
    last = np.searchsorted(known, np.arange(len(values)), side="right") - 1
    found: Floats = values[known[np.maximum(last, 0)]]
    return found
