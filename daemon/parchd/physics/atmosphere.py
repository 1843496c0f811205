"""Pressure of the air where a site lies."""

from parchd.units import Quantity

ALTITUDE_MIN_M = -500.0
ALTITUDE_MAX_M = 9000.0
"""Between these the formula is used; whoever takes an altitude from people checks it."""


def station_pressure_kpa(altitude_m: Quantity) -> Quantity:
    """Give the mean pressure of the air at an altitude; weather moves it by some 3 kPa either way.

    This is the pressure that a barometer at the site shows, not the one reduced to sea level. The standard
    atmosphere (US 1976, ICAO) is up to 0.4 kPa lower at 3000 m; parchd uses this formula throughout.

    Args:
        altitude_m: metres above sea level, `ALTITUDE_MIN_M` to `ALTITUDE_MAX_M`.

    Source: Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 7.

    >>> round(station_pressure_kpa(1800.0), 1)
    81.8
    """
    ratio: Quantity = ((293.0 - 0.0065 * altitude_m) / 293.0) ** 5.26
    return 101.3 * ratio
