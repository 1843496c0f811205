"""Student's t: how much wider an interval must be when few points say how much they scatter."""

import math
from functools import lru_cache
from statistics import NormalDist

TWO_SIGMA = math.erf(math.sqrt(2.0))
"""Share of a normal distribution within two standard deviations, 95.45 %: what k = 2 promises."""

_NEARLY_NORMAL = 1e4


@lru_cache(maxsize=512)
def t_factor(dof: float, confidence: float = TWO_SIGMA) -> float:
    """Give the factor that makes a standard uncertainty hold the truth with a confidence, both sides together.

    Args:
        dof: degrees of freedom, above 0; infinity gives the normal distribution.
        confidence: between 0 and 1.

    Raises:
        ValueError: an argument is out of its range.

    Source: GUM (JCGM 100:2008) annex G.3.2 and table G.2.

    >>> round(t_factor(7.0, 0.95), 4)
    2.3646
    >>> round(t_factor(math.inf), 6)
    2.0
    """
    if not dof > 0.0:
        raise ValueError(f"degrees of freedom must be above 0, not {dof:g}")
    if not 0.0 < confidence < 1.0:
        raise ValueError(f"a confidence lies between 0 and 1, not {confidence:g}")
    tail = 1.0 - confidence
    if dof > _NEARLY_NORMAL:
        return _near_normal(dof, -NormalDist().inv_cdf(tail / 2.0))
    return _quantile(dof, tail)


def _near_normal(dof: float, z: float) -> float:
    """Correct a normal quantile for many degrees of freedom (Abramowitz and Stegun 26.7.5, two terms)."""
    return z + (z**3 + z) / (4.0 * dof) + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * dof * dof)


def _quantile(dof: float, tail: float) -> float:
    low, high = 0.0, 1.0
    while _tail(high, dof) > tail:
        low, high = high, 2.0 * high
    while high - low > 1e-14 * high:
        middle = (low + high) / 2.0
        if _tail(middle, dof) > tail:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _tail(t: float, dof: float) -> float:
    """Both tails beyond t: the regularised incomplete beta function I_x(dof/2, 1/2) at x = dof / (dof + t^2)."""
    x = dof / (dof + t * t)
    a, b = dof / 2.0, 0.5
    if x < (a + 1.0) / (a + b + 2.0):
        return _beta_share(x, a, b)
    return 1.0 - _beta_share(t * t / (dof + t * t), b, a)


def _beta_share(x: float, a: float, b: float) -> float:
    if x <= 0.0:
        return 0.0
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) / (a * _continued_fraction(x, a, b))


def _continued_fraction(x: float, a: float, b: float) -> float:
    """Evaluate the fraction of DLMF 8.17.22 from the front (modified Lentz)."""
    numerator, denominator = 1.0, 0.0
    value = 1.0
    for step in range(1, 10_000):
        term = _fraction_term(step, x, a, b)
        denominator = 1.0 / (1.0 + term * denominator)
        numerator = 1.0 + term / numerator
        value *= numerator * denominator
        if abs(numerator * denominator - 1.0) < 1e-15:
            break
    return value


def _fraction_term(step: int, x: float, a: float, b: float) -> float:
    m = step // 2
    if step % 2 == 0:
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
    return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
