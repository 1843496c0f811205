"""Checks in the field: one known pressure sets the zero anew, two set zero and span."""

from parchd.physics.calibration.curve import Fit
from parchd.physics.calibration.matrices import Matrix, Vector, carried, identity, outer, total
from parchd.physics.calibration.points import LEAST_SPAN_KPA


def rezero(fit: Fit, indicated: float, reference: float) -> Fit:
    """Shift a curve so that it goes through one point; its shape stays.

    The curve becomes exact where it was checked and keeps its uncertainty away from there.

    Args:
        fit: the calibration so far.
        indicated: what is indicated, kPa.
        reference: at what pressure, kPa: 0 for a port open to the air (the air's own of an absolute
            transducer), -rho g h for a cup standing in water.

    >>> from parchd.physics.calibration.curve import straight
    >>> rezero(straight(0.5, 1.0), 0.9, 0.0).reference_kpa(-29.1)
    -30.0
    """
    shift = indicated - fit.indicated_kpa(reference)
    coefficients = (fit.coefficients[0] + shift, *fit.coefficients[1:])
    first = tuple(-power for power in fit.powers(reference)[1:])
    rows = identity(fit.degree + 1)
    jacobian = ((0.0, *first), *rows[1:])
    covariance = total(carried(jacobian, fit.covariance), outer(rows[0], rows[0]), (fit.s_kpa or 0.0) ** 2)
    return _changed(fit, coefficients, covariance)


def span_check(fit: Fit, one: tuple[float, float], other: tuple[float, float]) -> Fit:
    """Give a curve a new offset and a new slope so that it goes through two points; its bend stays.

    Args:
        fit: the calibration so far.
        one, other: pairs of indicated and reference pressure, kPa.

    Raises:
        ValueError: the references are less than 1 kPa apart, or the slope would change by more than a factor of two.

    >>> from parchd.physics.calibration.curve import straight
    >>> span_check(straight(0.0, 1.0), (0.0, 0.0), (-41.0, -40.0)).reference_kpa(-20.5)
    -20.0
    """
    (y1, x1), (y2, x2) = one, other
    if not abs(x2 - x1) >= LEAST_SPAN_KPA:
        raise ValueError(f"a check of the span needs two pressures, 1 kPa apart or more, not {x1:g} and {x2:g} kPa")
    f1, f2 = fit.indicated_kpa(x1), fit.indicated_kpa(x2)
    stretch = (y2 - y1) / (f2 - f1)
    if not 0.5 <= stretch <= 2.0:
        raise ValueError(f"a check of the span that makes it {stretch:.3g} times as wide cannot be right")
    offset = y1 - stretch * f1
    coefficients = (offset + stretch * fit.coefficients[0], *(stretch * c for c in fit.coefficients[1:]))
    return _changed(fit, coefficients, _stretched(fit, x1, x2, stretch))


def _stretched(fit: Fit, x1: float, x2: float, stretch: float) -> Matrix:
    """Carry the covariance through offset and stretch, which hang on the old curve and on two noisy points."""
    f1, g1, g2 = fit.indicated_kpa(x1), fit.powers(x1), fit.powers(x2)
    width = fit.indicated_kpa(x2) - f1
    unit = identity(fit.degree + 1)
    by_old = tuple(-stretch * (b - a) / width for a, b in zip(g1, g2, strict=True))
    offset_by_old = tuple(-f1 * slope - stretch * power for slope, power in zip(by_old, g1, strict=True))
    jacobian = total(outer(fit.coefficients, by_old), outer(unit[0], offset_by_old))
    covariance = carried(total(jacobian, unit, stretch), fit.covariance)
    for by_point, offset_by_point in ((-1.0 / width, 1.0 + f1 / width), (1.0 / width, -f1 / width)):
        moved = tuple(c * by_point + one * offset_by_point for c, one in zip(fit.coefficients, unit[0], strict=True))
        covariance = total(covariance, outer(moved, moved), (fit.s_kpa or 0.0) ** 2)
    return covariance


def _changed(fit: Fit, coefficients: Vector, covariance: Matrix) -> Fit:
    return Fit(coefficients, covariance, fit.s_kpa, fit.n, fit.dof, fit.span, fit.hysteresis_kpa, fit.repeatability_kpa)


def check_off_kpa(fit: Fit, indicated: float, reference: float) -> float:
    """Give how far a check found the calibration off, in kPa of corrected pressure.

    >>> from parchd.physics.calibration.curve import straight
    >>> check_off_kpa(straight(0.0, 1.0), 0.25, 0.0)
    0.25
    """
    return fit.reference_kpa(indicated) - reference
