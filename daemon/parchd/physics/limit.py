"""The driest tension a tensiometer can show at a site before its water gives way."""

from parchd.physics.head import head_kpa
from parchd.physics.water import vapour_pressure_kpa
from parchd.units import Quantity

GAS_MARGIN_KPA = 14.0
"""Room left for dissolved gas to come out of the water.

Inferred, not published: it gives the 85 kPa at sea level and 20 C that ISO 11276, ASTM D3404 and Stannard (1992)
state as the practical limit.
"""

RATIO = 0.85
"""Share of the air's pressure that the other model takes for usable: published for sea level only."""


def physical_ceiling_kpa(
    station_pressure_kpa: Quantity, water_c: Quantity | float, height_m: Quantity | float
) -> Quantity:
    """Give the tension at the cup at which the water at the transducer boils.

    Args:
        station_pressure_kpa: pressure of the air at the site, not reduced to sea level.
        water_c: temperature of the water at its highest point.
        height_m: see `parchd.physics.head.head_kpa`; the head comes off the range.

    Returns:
        P - es(T) - rho g h. A reading above it is not a tension.

    Source: hydrostatics and vapour pressure (FAO-56 eq. 11).

    >>> round(physical_ceiling_kpa(101.3, 20.0, 0.0), 2)
    98.96
    """
    return station_pressure_kpa - vapour_pressure_kpa(water_c) - head_kpa(height_m, water_c)


def usable_limit_kpa(
    station_pressure_kpa: Quantity,
    water_c: Quantity | float,
    height_m: Quantity | float,
    gas_margin_kpa: Quantity | float = GAS_MARGIN_KPA,
) -> Quantity:
    """Give the tension at the cup up to which a tensiometer is relied on: the physical ceiling less a margin.

    The margin is the same at every altitude: the offset model, which parchd uses. `ratio_limit_kpa` allows up to 6 kPa
    more at 3000 m; the published limits for sea level do not tell the two apart.

    Args:
        station_pressure_kpa, water_c, height_m: see `physical_ceiling_kpa`.
        gas_margin_kpa: room for gas coming out of solution, 0 or more.

    >>> round(usable_limit_kpa(101.3, 20.0, 0.0), 1)
    85.0
    >>> round(usable_limit_kpa(84.78, 20.0, 0.60), 1)
    62.6
    """
    return physical_ceiling_kpa(station_pressure_kpa, water_c, height_m) - gas_margin_kpa


def ratio_limit_kpa(station_pressure_kpa: Quantity, water_c: Quantity | float, height_m: Quantity | float) -> Quantity:
    """Give the usable limit by the ratio model, for comparison: 85 % of the air's pressure, less the head.

    Args:
        station_pressure_kpa, water_c, height_m: see `physical_ceiling_kpa`.

    >>> round(ratio_limit_kpa(101.3, 20.0, 0.0), 1)
    86.1
    """
    return station_pressure_kpa * RATIO - head_kpa(height_m, water_c)
