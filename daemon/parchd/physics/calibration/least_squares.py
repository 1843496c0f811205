"""Ordinary least squares of what was indicated on what the reference said."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from parchd.physics.calibration.matrices import Matrix, Vector, carried, dot, inverse, transposed
from parchd.physics.calibration.points import Points


@dataclass(frozen=True, slots=True)
class Solution:
    """A polynomial through points.

    Args:
        coefficients: about a reference of zero, lowest power first.
        unit_covariance: of the coefficients, for a scatter of one.
        residuals: indicated less polynomial, in the order of the points.
        leverages: share of itself that each point pulls the polynomial by, 0 to 1.
    """

    coefficients: Vector
    unit_covariance: Matrix
    residuals: Vector
    leverages: Vector

    @property
    def dof(self) -> int:
        return len(self.residuals) - len(self.coefficients)

    @property
    def s(self) -> float | None:
        """Standard deviation about the polynomial; ``None`` where it goes through every point."""
        if self.dof == 0:
            return None
        return math.sqrt(math.fsum(residual**2 for residual in self.residuals) / self.dof)


def solve(points: Points, degree: int) -> Solution:
    """Fit a polynomial; the references are centred and scaled first, so that powers stay small.

    Args:
        points: with more different references than ``degree``.
        degree: 1 or 2.
    """
    middle = math.fsum(x for _, x in points) / len(points)
    mean_y = math.fsum(y for y, _ in points) / len(points)
    scale = 1.0 if degree == 1 else max(abs(x - middle) for _, x in points)
    rows = [tuple(((x - middle) / scale) ** power for power in range(degree + 1)) for _, x in points]
    columns = transposed(tuple(rows))
    unit = inverse(tuple(tuple(_product_sum(one, other) for other in columns) for one in columns))
    heights = [y - mean_y for y, _ in points]
    centred = tuple(dot(line, [_product_sum(column, heights) for column in columns]) for line in unit)
    residuals = tuple(height - dot(centred, row) for height, row in zip(heights, rows, strict=True))
    leverages = tuple(dot(row, [dot(line, row) for line in unit]) for row in rows)
    back = _to_zero(middle, scale, degree)
    coefficients = [dot(line, centred) for line in back]
    coefficients[0] += mean_y
    return Solution(tuple(coefficients), carried(back, unit), residuals, leverages)


def _to_zero(middle: float, scale: float, degree: int) -> Matrix:
    """Map coefficients about the middle to coefficients about zero."""
    shift = middle / scale
    if degree == 1:
        return (1.0, -shift), (0.0, 1.0 / scale)
    return (1.0, -shift, shift**2), (0.0, 1.0 / scale, -2.0 * shift / scale), (0.0, 0.0, 1.0 / scale**2)


def _product_sum(left: Sequence[float], right: Sequence[float]) -> float:
    return math.fsum(a * b for a, b in zip(left, right, strict=True))
