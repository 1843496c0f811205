"""Exact limits of inverse prediction, to judge the approximation by."""

import math

from parchd.physics.calibration.curve import Fit
from parchd.physics.student import t_factor


def fieller_kpa(fit: Fit, indicated: float, m: int = 1, confidence: float = 0.95) -> tuple[float, float]:
    """Give the pressures that an indication does not contradict.

    For a good line (b many times its uncertainty) the limits are those of ``u_kpa`` times Student's t but for a hair.

    Args:
        fit: a straight line with degrees of freedom.
        indicated, m: see `Fit.u_kpa`.
        confidence: of the interval, both sides.

    Raises:
        ValueError: not a line, or no scatter known, or a slope that is not different from 0.

    Source: Fieller 1954, J. R. Stat. Soc. B 16:175.
    """
    if fit.degree != 1 or fit.s_kpa is None:
        raise ValueError("limits after Fieller need a straight line with more points than two")
    (a, b), ((c00, c01), (_, c11)) = fit.coefficients, fit.covariance
    t2 = t_factor(fit.dof, confidence) ** 2
    rise = indicated - a
    lead = b * b - t2 * c11
    if lead <= 0.0:
        raise ValueError("the slope is not different from 0: any pressure would do")
    half = b * rise + t2 * c01
    root = math.sqrt(half * half - lead * (rise * rise - t2 * (fit.s_kpa**2 / m + c00)))
    return (half - root) / lead, (half + root) / lead
