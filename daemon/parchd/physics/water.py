"""Density and vapour pressure of water."""

import math

from parchd.physics.elementwise import clamped
from parchd.units import Quantity

_A1, _A2, _A3, _A4, _A5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950


def density_kg_m3(temperature_c: Quantity) -> Quantity:
    """Give the density of air-free water at one atmosphere.

    Args:
        temperature_c: 0 to 40 C, where the formula holds; beyond, the nearer end is used. NaN gives NaN.

    Source: Tanaka et al. 2001, Metrologia 38:301, table 2 equation.

    >>> round(density_kg_m3(20.0), 3)
    998.207
    """
    t = clamped(temperature_c, 0.0, 40.0)
    return _A5 * (1.0 - (t + _A1) * (t + _A1) * (t + _A2) / (_A3 * (t + _A4)))


def vapour_pressure_kpa(temperature_c: Quantity) -> Quantity:
    """Give the saturation vapour pressure over water.

    Args:
        temperature_c: -40 to 100 C; beyond, the nearer end is used: no liquid column stands there. NaN gives NaN.

    Source: Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 11 (after Tetens 1930).

    >>> round(vapour_pressure_kpa(24.5), 3)
    3.075
    """
    t = clamped(temperature_c, -40.0, 100.0)
    growth: Quantity = math.e ** (17.27 * t / (t + 237.3))
    return 0.6108 * growth
