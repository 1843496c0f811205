"""Can a barometer's number be the pressure of the air at the site?"""

from enum import StrEnum

from parchd.physics.atmosphere import station_pressure_kpa
from parchd.units import Quantity

WEATHER_KPA = 3.0
"""How far weather moves the pressure of the air to either side of its mean (common experience, not a standard)."""

SWING_KPA = 4.0
"""Room for one reading in any weather but a hurricane; a mean over weeks needs no more than 1.5 kPa."""


class Believed(StrEnum):
    """What to make of a barometer."""

    PLAUSIBLE = "fits the altitude"
    REDUCED = "looks reduced to sea level: tension would come out wrong by the whole difference"
    IMPLAUSIBLE = "fits neither the altitude nor sea level"


def barometer_check(barometer_kpa: float, altitude_m: float, swing_kpa: float = SWING_KPA) -> Believed:
    """Compare a barometer with the altitude of its site.

    Weather services and many instruments reduce the pressure to sea level; at 1000 m that is 11.3 kPa too much, and an
    absolute transducer takes it 1:1 into the tension. Below some 350 m weather hides the difference in one reading; a
    mean over weeks with a swing of 1.5 kPa shows it from 150 m on.

    Args:
        barometer_kpa: one reading, or a mean of many.
        altitude_m: see `parchd.physics.atmosphere.station_pressure_kpa`.
        swing_kpa: how far it may be off its mean.

    >>> barometer_check(90.4, 1000.0).name, barometer_check(101.5, 1000.0).name, barometer_check(1013.2, 0.0).name
    ('PLAUSIBLE', 'REDUCED', 'IMPLAUSIBLE')
    """
    off_station = abs(barometer_kpa - station_pressure_kpa(altitude_m))
    off_sea_level = abs(barometer_kpa - station_pressure_kpa(0.0))
    if off_station <= swing_kpa:
        return Believed.PLAUSIBLE
    if off_sea_level <= swing_kpa:
        return Believed.REDUCED
    return Believed.IMPLAUSIBLE


def station_from_sea_level_kpa(reduced_kpa: Quantity, altitude_m: float) -> Quantity:
    """Give the pressure at the site from one that was reduced to sea level.

    Good to some 0.3 kPa: services reduce with the temperature of the day, this with the mean atmosphere.

    Args:
        reduced_kpa: as a weather service states it.
        altitude_m: of the site.

    Source: ratio of FAO-56 eq. 7 at the altitude and at sea level.

    >>> round(station_from_sea_level_kpa(101.3, 1000.0), 2)
    90.02
    """
    return reduced_kpa * (station_pressure_kpa(altitude_m) / station_pressure_kpa(0.0))
