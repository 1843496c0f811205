"""A calibration curve and what it is worth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, overload

from parchd.physics.calibration.matrices import Matrix, Vector
from parchd.physics.elementwise import clamped, sqrt
from parchd.units import Quantity

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Fit:
    """A calibration curve: indicated = a + b reference (+ c reference^2), and its inverse.

    A curve of the second degree holds within its span; beyond, its tangent goes on, for a parabola bends back.

    Args:
        coefficients: a (kPa), b and, of a curve of the second degree, c (1/kPa).
        covariance: of the coefficients.
        s_kpa: standard deviation of one indication about the curve, in indicated kPa; ``None``: the points say nothing
            about it.
        n: number of points used.
        dof: degrees of freedom behind ``s_kpa``; 0 where it is ``None``, infinity where it was known beforehand.
        span: lowest and highest reference.
        hysteresis_kpa: greatest difference between runs up and down; ``None``: no runs to compare.
        repeatability_kpa: standard deviation within one direction; ``None``: no point was repeated.
        suspects: positions, in the points that were given, of those that do not belong to the others; worst first.
        left_out: positions of points that were not used.
        residuals_kpa: indicated less curve, of every point given, used or not.
    """

    coefficients: Vector
    covariance: Matrix
    s_kpa: float | None
    n: int
    dof: float
    span: tuple[float, float]
    hysteresis_kpa: float | None = None
    repeatability_kpa: float | None = None
    suspects: tuple[int, ...] = ()
    left_out: tuple[int, ...] = ()
    residuals_kpa: Vector = ()

    def __post_init__(self) -> None:
        slopes = [self._slope_at(end) for end in self.span]
        if not min(slopes) > 0.0:
            raise ValueError(
                f"the curve is not monotone over its span: its slope goes from {slopes[0]:.3g} to {slopes[1]:.3g}; "
                "a straight line, or a point left out, may do better"
            )

    @property
    def degree(self) -> int:
        return len(self.coefficients) - 1

    @property
    def intercept_kpa(self) -> float:
        """What is indicated at a reference of zero."""
        return self.coefficients[0]

    @property
    def slope(self) -> float:
        """Indicated kPa for one kPa of the reference, in the middle of the span."""
        return self._slope_at((self.span[0] + self.span[1]) / 2.0)

    @property
    def residual_kpa(self) -> float | None:
        """``s_kpa`` under its older name."""
        return self.s_kpa

    def reference_kpa(self, indicated: Quantity) -> Quantity:
        """Give the pressure that belongs to an indication: what a reading is corrected to.

        >>> straight(0.5, 1.0).reference_kpa(-29.5)
        -30.0
        """
        if self.degree == 1:
            return (indicated - self.coefficients[0]) / self.coefficients[1]
        return self._root(indicated)

    def indicated_kpa(self, reference: Quantity) -> Quantity:
        """Give what the transducer indicates at a pressure; the inverse of `reference_kpa`."""
        value = self.coefficients[0] + self.coefficients[1] * reference
        return value + self.coefficients[2] * self._square(reference) if self.degree == 2 else value

    def u_kpa(self, indicated: Quantity, m: int = 1) -> Quantity:
        """Give the standard uncertainty of `reference_kpa`, from the scatter of the points alone.

        It is a Type A uncertainty with ``dof`` degrees of freedom; what the reference itself may be off comes on top.

        Args:
            indicated: a reading, or the mean of ``m``, kPa.
            m: number of readings in the mean.

        Raises:
            ValueError: the points say nothing about their scatter (``dof`` is 0).

        Source: u = (s/b) sqrt(1/m + 1/n + (y - mean y)^2 / (b^2 Sxx)) for a line (Draper and Smith 1998, Applied
        Regression Analysis, chapter 3.2); in general sqrt(s^2/m + g' C g) / f', g the powers of the reference.
        """
        x = self.reference_kpa(indicated)
        return sqrt(self._variance(x) + self._noise(m)) / self._steepness(x)

    def u_parts(self, indicated: Quantity, m: int = 1) -> tuple[Quantity | float, Quantity]:
        """Give `u_kpa` in two: what the noise of the reading brings, and what the curve may be off."""
        x = self.reference_kpa(indicated)
        steepness = self._steepness(x)
        return math.sqrt(self._noise(m)) / steepness, sqrt(self._variance(x)) / steepness

    def _variance(self, x: Quantity) -> Quantity:
        """Give the variance of the curve at a reference, in indicated kPa^2."""
        (c00, c01, *_), (_, c11, *_) = self.covariance[0], self.covariance[1]
        variance = c00 + x * (2.0 * c01 + c11 * x)
        if self.degree == 1:
            return variance
        c02, c12, c22 = self.covariance[2]
        square = self._square(x)
        return variance + square * (2.0 * (c02 + c12 * x) + c22 * square)

    @overload
    def inside_span(self, reference: float, margin_kpa: float = 0.0) -> bool: ...
    @overload
    def inside_span(self, reference: NDArray[float64], margin_kpa: float = 0.0) -> NDArray[bool_]: ...
    def inside_span(self, reference: float | NDArray[float64], margin_kpa: float = 0.0) -> bool | NDArray[bool_]:
        """Tell whether a corrected pressure lies where there were calibration points.

        >>> straight(0.0, 1.0, span=(-80.0, 0.0)).inside_span(-85.0)
        False
        """
        return (reference >= self.span[0] - margin_kpa) & (reference <= self.span[1] + margin_kpa)

    def powers(self, reference: float) -> Vector:
        """Give the derivatives of the indication by each coefficient: 1, x (, x^2)."""
        return (1.0, reference, self._square(reference))[: self.degree + 1]

    def _noise(self, m: int) -> float:
        if self.s_kpa is None:
            raise ValueError(f"{self.n} calibration points say nothing about their scatter: give more, or a known one")
        return self.s_kpa**2 / m

    def _steepness(self, x: Quantity) -> Quantity | float:
        if self.degree == 1:
            return self.coefficients[1]
        return self.coefficients[1] + 2.0 * self.coefficients[2] * clamped(x, *self.span)

    def _slope_at(self, reference: float) -> float:
        return self.coefficients[1] + (2.0 * self.coefficients[2] * reference if self.degree == 2 else 0.0)

    def _square(self, reference: Quantity) -> Quantity:
        """Give x^2, continued by its tangent beyond the span."""
        nearest = clamped(reference, *self.span)
        return nearest * (2.0 * reference - nearest)

    def _root(self, indicated: Quantity) -> Quantity:
        low, high = self.span
        middle = (low + high) / 2.0
        nearest = clamped(indicated, self.indicated_kpa(low), self.indicated_kpa(high))
        rise = nearest - self.indicated_kpa(middle)
        slope = self._slope_at(middle)
        slope_there = sqrt(slope * slope + 4.0 * self.coefficients[2] * rise)
        return middle + 2.0 * rise / (slope + slope_there) + (indicated - nearest) / slope_there


Line = Fit
"""The name a fit had when it was always a straight line."""


def straight(intercept_kpa: float, slope: float, span: tuple[float, float] = (-100.0, 0.0)) -> Fit:
    """Make a line that is taken as given, without points.

    >>> straight(0.0, 1.0).reference_kpa(-30.0)
    -30.0
    """
    return Fit((intercept_kpa, slope), ((0.0, 0.0), (0.0, 0.0)), None, 0, 0.0, span)
