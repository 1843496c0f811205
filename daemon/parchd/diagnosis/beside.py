"""How a tensiometer goes with a neighbour at its depth: learned from its own past, and kept in a few sums.

The logarithm of its tension is a parabola of the logarithm of the neighbour's. What two stations of one zone usually
are to each other is known beforehand (`USUAL`), and counts until a few weeks of their own have shown what they are.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

BLOCK_H = 6
USUAL, USUAL_SD = (0.0, 1.0, 0.0), (0.5, 0.25, 0.15)
"""Coefficients of the parabola around 8 kPa, and how much stations differ in them."""
SCATTER, SCATTER_WEIGHT, LEAST_SCATTER = 0.15, 3.0, 0.07
"""Scatter around it beforehand, what that counts in spells, and what is always added."""
SPELL = 16.0
"""Blocks of four days tell as much as one that stands alone: what is odd today is odd tomorrow."""
CENTRE, WET_KPA = 2.3, 2.0
WILD, WILD_FROM = 3.0, 80
"""What lies further off than so many times the scatter counts as if it lay there, once there are so many blocks."""


class Learned(NamedTuple):
    """Sums over the blocks: their number, squares of the own logarithm, products with it, and of the powers."""

    blocks: float
    squares: float
    products: tuple[float, float, float]
    powers: tuple[float, float, float, float, float]

    def row(self) -> list[float]:
        return [self.blocks, self.squares, *self.products, *self.powers]


NOTHING = Learned(0.0, 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0, 0.0, 0.0))


class Relation(NamedTuple):
    """What its own past says, with how sure that is.

    Args:
        centre: the three coefficients.
        unsure: their covariance.
        scatter: of single blocks around the parabola.
    """

    centre: "Floats"
    unsure: "Floats"
    scatter: float


def learned_from(row: Sequence[float]) -> Learned:
    """Read sums that were kept."""
    count, squares, *rest = row
    return Learned(count, squares, (rest[0], rest[1], rest[2]), (rest[3], rest[4], rest[5], rest[6], rest[7]))


def learn(before: Learned, own: "Floats", near: "Floats") -> Learned:
    """Add blocks of both, kPa; those of which one is unknown count for nothing."""
    import numpy as np

    both = np.isfinite(own) & np.isfinite(near)
    y, basis = logarithm(own[both]), basis_of(near[both])
    if before.blocks >= WILD_FROM:
        relation = relation_of(before)
        middle = basis @ relation.centre
        room = WILD * relation.scatter
        y = middle + np.clip(y - middle, -room, room)
    x = basis[:, 1]
    powers = [float((x**power).sum()) for power in range(5)]
    products = (basis.T @ y).tolist()
    return Learned(
        before.blocks + len(y),
        before.squares + float(y @ y),
        (before.products[0] + products[0], before.products[1] + products[1], before.products[2] + products[2]),
        (
            before.powers[0] + powers[0], before.powers[1] + powers[1], before.powers[2] + powers[2],
            before.powers[3] + powers[3], before.powers[4] + powers[4],
        ),
    )  # fmt: skip


def relation_of(learned: Learned) -> Relation:
    """Weigh what was seen against what is usual."""
    import numpy as np

    matrix = np.array([[learned.powers[row + column] for column in range(3)] for row in range(3)])
    products, usual = np.array(learned.products), np.array(USUAL)
    sure = np.diag(1.0 / np.array(USUAL_SD) ** 2)
    variance = SCATTER**2
    for _ in range(3):
        unsure = np.linalg.inv(matrix / (SPELL * variance) + sure)
        centre: Floats = unsure @ (products / (SPELL * variance) + sure @ usual)
        left = max(float(learned.squares - 2.0 * centre @ products + centre @ matrix @ centre), 0.0)
        variance = (left / SPELL + SCATTER_WEIGHT * SCATTER**2) / (learned.blocks / SPELL + SCATTER_WEIGHT)
    known, open_ = np.asarray(centre, dtype=np.float64), np.asarray(unsure, dtype=np.float64)
    return Relation(known, open_, float(np.sqrt(variance + LEAST_SCATTER**2)))


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


def blocks_of(hours: Sequence[float]) -> "Floats":
    """Take the median of every six hours; NaN: none is known."""
    import numpy as np

    rows = np.sort(np.array(hours, dtype=float).reshape(-1, BLOCK_H), axis=1)
    count = np.isfinite(rows).sum(axis=1)
    low, high = np.maximum(count - 1, 0) // 2, np.maximum(count, 1) // 2
    every = np.arange(len(rows))
    found: Floats = np.where(count > 0, (rows[every, low] + rows[every, np.minimum(high, BLOCK_H - 1)]) / 2.0, np.nan)
    return found
