"""Calibrations of single transducers, each in force from its date on."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from parchd.units import Quantity

Points = tuple[tuple[float, float], ...]

_PLAUSIBLE_KPA = 300.0
_LEAST_SPAN_KPA = 1.0


@dataclass(frozen=True, slots=True)
class Line:
    """A straight calibration line: indicated = intercept + slope * reference.

    Args:
        intercept_kpa: what the transducer indicates at a reference of zero.
        slope: indicated kPa for one kPa of the reference.
        residual_kpa: standard deviation of the points about the line (n - 2 degrees of freedom), in indicated kPa;
            ``None`` for fewer than three points, which say nothing about it.
        n: number of points.
    """

    intercept_kpa: float
    slope: float
    residual_kpa: float | None
    n: int

    def reference_kpa(self, indicated: Quantity) -> Quantity:
        """Give the pressure that belongs to an indication: what a reading is corrected to.

        >>> Line(intercept_kpa=0.5, slope=1.0, residual_kpa=None, n=1).reference_kpa(-29.5)
        -30.0
        """
        return (indicated - self.intercept_kpa) / self.slope

    def indicated_kpa(self, reference: Quantity) -> Quantity:
        """Give what the transducer indicates at a pressure; the inverse of `reference_kpa`."""
        return self.intercept_kpa + self.slope * reference


@dataclass(frozen=True, slots=True)
class Calibration:
    """What one session at the bench found.

    Args:
        valid_from_us: readings measured from here on are corrected by it, microseconds UTC.
        label: its date as people know it (``YYYY-MM-DD``).
        points: pairs of indicated gauge pressure (by the nominal line of the data sheet) and gauge pressure of the
            reference, kPa, both negative for vacuum.
    """

    valid_from_us: int
    label: str
    points: Points


def fit(points: Points) -> Line:
    """Fit a line through calibration points.

    One point gives an offset, two an exact line, more an ordinary least-squares line of what was indicated (which
    carries the error) on what the reference said; it is inverted for use. The nominal line of a transducer is straight,
    so that this is the same as a fit of the voltages themselves.

    Raises:
        ValueError: no points; a number beyond 300 kPa or not finite; references that span less than 1 kPa; a slope
            outside 0.5 to 2.

    >>> fit(((0.4, 0.0),))
    Line(intercept_kpa=0.4, slope=1.0, residual_kpa=None, n=1)
    >>> line = fit(((0.5, 0.0), (-79.5, -80.0)))
    >>> line.reference_kpa(-29.5)
    -30.0
    """
    if not points:
        raise ValueError("a calibration needs at least one point")
    for number in (number for point in points for number in point):
        if not abs(number) <= _PLAUSIBLE_KPA:
            raise ValueError(f"a calibration point of {number:g} kPa cannot be right: are both numbers in kPa?")
    if len(points) == 1:
        ((indicated, reference),) = points
        return Line(indicated - reference, 1.0, None, 1)
    _check_span([reference for _, reference in points])
    return _checked(_least_squares(points))


def in_force(calibrations: Iterable[Calibration], time_us: int) -> Calibration | None:
    """Give the calibration that holds for a time of measurement: the latest that is not younger.

    Args:
        calibrations: in any order; of two with the same date the first holds.

    Returns:
        ``None`` before the first: the nominal line of the data sheet holds.

    >>> spring = Calibration(1_000, "2026-03-01", ((0.2, 0.0),))
    >>> in_force([spring], 999) is None, in_force([spring], 1_000).label
    (True, '2026-03-01')
    """
    begun = (calibration for calibration in calibrations if calibration.valid_from_us <= time_us)
    return max(begun, key=lambda calibration: calibration.valid_from_us, default=None)


def _least_squares(points: Points) -> Line:
    n = len(points)
    mean_y = math.fsum(y for y, _ in points) / n
    mean_x = math.fsum(x for _, x in points) / n
    sxx = math.fsum((x - mean_x) ** 2 for _, x in points)
    slope = math.fsum((x - mean_x) * (y - mean_y) for y, x in points) / sxx
    intercept = mean_y - slope * mean_x
    return Line(intercept, slope, _residual(points, intercept, slope), n)


def _residual(points: Points, intercept: float, slope: float) -> float | None:
    if len(points) < 3:
        return None
    squares = math.fsum((y - intercept - slope * x) ** 2 for y, x in points)
    return math.sqrt(squares / (len(points) - 2))


def _check_span(references: list[float]) -> None:
    span = max(references) - min(references)
    if span < _LEAST_SPAN_KPA:
        raise ValueError(
            f"the references of {len(references)} calibration points span {span:g} kPa: a line needs 1 kPa or more; "
            "give one point for an offset alone"
        )


def _checked(line: Line) -> Line:
    if not 0.5 <= line.slope <= 2.0:
        raise ValueError(
            f"the calibration line has a slope of {line.slope:.3g} where about 1 is expected: "
            "are the units of both columns kPa, is vacuum negative in both, and is the transducer's polarity right?"
        )
    return line
