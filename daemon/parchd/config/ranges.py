"""What tensions a tensiometer can show where it stands."""

from dataclasses import dataclass

from parchd.config.ground import SiteTable
from parchd.config.tensiometers import Tensiometer
from parchd.config.wiring import Wiring
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.head import head_kpa
from parchd.physics.limit import physical_ceiling_kpa, usable_limit_kpa
from parchd.physics.reference import Reference, to_gauge_kpa
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


def range_of(tensiometer: Tensiometer, site: SiteTable, wiring: Wiring | None) -> Range:
    """Work out the range of a tensiometer at a site: that of its water, or of its transducer if that ends before.

    Args:
        wiring: its transducer; ``None``: not known.
    """
    top_m = _top_m(tensiometer)
    pressure_kpa = station_pressure_kpa(site.altitude_m)
    free_water_kpa = head_kpa(tensiometer.depth_m + STANDING_WATER_M, site.water_c)
    limits = [_limit_of_water(tensiometer, site, pressure_kpa)]
    if wiring is not None and (ends := _deepest_vacuum_kpa(wiring, pressure_kpa)) is not None:
        limits.append(_limit_of_transducer(tensiometer, site, wiring.name, ends))
    usable_kpa, why = min(limits)
    return Range(
        usable_kpa=usable_kpa,
        highest_kpa=physical_ceiling_kpa(pressure_kpa, site.water_c, top_m),
        lowest_kpa=min(LOWEST_TENSION_KPA, -free_water_kpa),
        why=why,
    )


def _top_m(tensiometer: Tensiometer) -> float:
    column = tensiometer.column
    return tensiometer.depth_m + ABOVE_GROUND_M if column.zeroed else column.top_m


def _limit_of_water(tensiometer: Tensiometer, site: SiteTable, pressure_kpa: float) -> tuple[float, str]:
    top_m, vapour_kpa = _top_m(tensiometer), vapour_pressure_kpa(site.water_c)
    assumed = "assumed " if tensiometer.column.zeroed else ""
    return usable_limit_kpa(pressure_kpa, site.water_c, top_m, site.gas_margin_kpa), (
        f"{pressure_kpa:.1f} kPa of air at {site.altitude_m:g} m, less {vapour_kpa:.1f} of vapour, "
        f"{site.gas_margin_kpa:.1f} for gas in the water and {_head(head_kpa(top_m, site.water_c), top_m, assumed)} "
        "(offset model)"
    )


def _limit_of_transducer(tensiometer: Tensiometer, site: SiteTable, name: str, vacuum_kpa: float) -> tuple[float, str]:
    height_m = _top_m(tensiometer) if tensiometer.column.zeroed else tensiometer.column.height_m
    head = head_kpa(height_m, site.water_c)
    return (
        vacuum_kpa - head,
        f"the range of {name} ends at {vacuum_kpa:.1f} kPa of vacuum, less {_head(head, height_m)}",
    )


def _deepest_vacuum_kpa(wiring: Wiring, pressure_kpa: float) -> float | None:
    """Give the greatest vacuum within the transducer's range; ``None``: not known, or refused already."""
    reference = wiring.transducer.reference
    if wiring.ends_kpa is None or (min(wiring.ends_kpa) >= 0.0 and reference is not Reference.ABSOLUTE):
        return None
    return -to_gauge_kpa(min(wiring.ends_kpa), reference, pressure_kpa, wiring.sealed_at_kpa)


def _head(head: float, height_m: float, assumed: str = "") -> str:
    return f"{head:.1f} for {assumed}{height_m * 100:.0f} cm of water"
