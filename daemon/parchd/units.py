"""Units of pressure and of soil water tension; one kilopascal is what everything else is counted in."""

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

Quantity = TypeVar("Quantity", float, "NDArray[float64]", "float | NDArray[float64]")
"""A number, a NumPy array of numbers, or either; a formula gives back what it was given."""

KPA_PER: Mapping[str, float] = MappingProxyType(
    {
        "kPa": 1.0,
        "Pa": 0.001,
        "hPa": 0.1,
        "mbar": 0.1,
        "cbar": 1.0,
        "bar": 100.0,
        "cmH2O": 0.0980665,
        "mH2O": 9.80665,
        "mmHg": 0.133322387415,
        "inHg": 3.386388640341,
        "psi": 6.894757293168361,
        "atm": 101.325,
        "J/kg": 1.0,
    }
)
"""Kilopascals in one of each unit.

Columns of water and mercury are the conventional ones (g = 9.80665 m/s2; 1000 and 13595.1 kg/m3), psi is the
avoirdupois pound on the square inch; all exact by definition (SI brochure, NIST SP 811 appendix B). J/kg counts for
water of 1000 kg/m3.
"""


def to_kpa(value: Quantity, unit: str) -> Quantity:
    """Convert a pressure or tension to kPa; the sign stays.

    Args:
        value: number or array in ``unit``; NaN stays NaN.
        unit: a key of `KPA_PER`.

    Raises:
        ValueError: the unit is not known; the text lists those that are.

    >>> to_kpa(60.0, "cbar")
    60.0
    >>> round(to_kpa(10.0, "psi"), 3)
    68.948
    """
    return value * _kpa_per(unit)


def from_kpa(value_kpa: Quantity, unit: str) -> Quantity:
    """Convert kPa to another unit; the inverse of `to_kpa` to 1e-15.

    Raises:
        ValueError: the unit is not known; the text lists those that are.

    >>> round(from_kpa(33.0, "cmH2O"), 1)
    336.5
    """
    return value_kpa / _kpa_per(unit)


def pf(tension_kpa: float) -> float | None:
    """Give the pF of a tension: log10 of the tension in conventional centimetres of water (Schofield 1935).

    Returns:
        ``None`` for a tension of zero or less: there is no pF under free water.

    >>> round(pf(33.0), 3)
    2.527
    >>> pf(-3.9) is None
    True
    """
    if not tension_kpa > 0.0:
        return None
    return math.log10(from_kpa(tension_kpa, "cmH2O"))


def _kpa_per(unit: str) -> float:
    try:
        return KPA_PER[unit]
    except KeyError:
        raise ValueError(f"unknown unit of pressure {unit!r}; known are {', '.join(KPA_PER)}") from None
