"""What tensions a tensiometer can show where it stands."""

from dataclasses import dataclass

from parchd.config.ground import SiteTable
from parchd.config.tensiometers import Tensiometer
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.head import head_kpa
from parchd.physics.limit import physical_ceiling_kpa, usable_limit_kpa
from parchd.physics.water import vapour_pressure_kpa
from parchd.quality.gross import LOWEST_TENSION_KPA

ABOVE_GROUND_M = 0.15
"""How far a gauge that was zeroed in water is taken to stand above the ground: its column is not written."""

STANDING_WATER_M = 1.0
"""More free water than that above the ground is no tension, but a fault."""


@dataclass(frozen=True, slots=True)
class Range:
    """Tensions at the cup.

    Args:
        usable_kpa: up to which it can be believed.
        highest_kpa, lowest_kpa: outside of these there is no tension in the ground.
        why: where the usable limit comes from, for people.
    """

    usable_kpa: float
    highest_kpa: float
    lowest_kpa: float
    why: str


def range_of(tensiometer: Tensiometer, site: SiteTable) -> Range:
    """Work out the range of a tensiometer at a site."""
    column = tensiometer.column
    height_m = tensiometer.depth_m + ABOVE_GROUND_M if column.zeroed else column.height_m
    pressure_kpa = station_pressure_kpa(site.altitude_m)
    free_water_kpa = head_kpa(tensiometer.depth_m + STANDING_WATER_M, site.water_c)
    return Range(
        usable_kpa=usable_limit_kpa(pressure_kpa, site.water_c, height_m, site.gas_margin_kpa),
        highest_kpa=physical_ceiling_kpa(pressure_kpa, site.water_c, height_m),
        lowest_kpa=min(LOWEST_TENSION_KPA, -free_water_kpa),
        why=_why(site, pressure_kpa, height_m, "assumed " if column.zeroed else ""),
    )


def _why(site: SiteTable, pressure_kpa: float, height_m: float, assumed: str) -> str:
    vapour_kpa = vapour_pressure_kpa(site.water_c)
    return (
        f"{pressure_kpa:.1f} kPa of air at {site.altitude_m:g} m, less {vapour_kpa:.1f} of vapour, "
        f"{site.gas_margin_kpa:.1f} for gas in the water and {head_kpa(height_m, site.water_c):.1f} for "
        f"{assumed}{height_m * 100:.0f} cm of water"
    )
