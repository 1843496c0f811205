"""What the water column and the altitude leave of the range, depth by depth."""

from dataclasses import dataclass

from parchd.physics.atmosphere import ALTITUDE_MAX_M, ALTITUDE_MIN_M, station_pressure_kpa
from parchd.physics.head import head_kpa
from parchd.physics.limit import GAS_MARGIN_KPA, usable_limit_kpa
from parchd.workbench.errors import SheetError
from parchd.workbench.geometry import Instrument
from parchd.workbench.lengths import Ruler

SHORT_RANGE_KPA = 40.0
"""Below this a usable limit is pointed out: many limits for irrigation lie higher."""

PROOF_LEAST_KPA = 20.0
PROOF_GOOD_KPA = 30.0
"""Tension that the bench proof must reach, and one that is good. Common practice, no published source."""


@dataclass(frozen=True, slots=True)
class Site:
    """Where the instruments will stand.

    Args:
        name: may be empty.
        altitude_m: above sea level.
        water_c: temperature of the water that heads and limits are worked out for.
        gas_margin_kpa: see `parchd.physics.limit`.

    Raises:
        SheetError: the altitude is none of this world.
    """

    name: str
    altitude_m: float
    water_c: float = 20.0
    gas_margin_kpa: float = GAS_MARGIN_KPA

    def __post_init__(self) -> None:
        if not ALTITUDE_MIN_M <= self.altitude_m <= ALTITUDE_MAX_M:
            raise SheetError(
                f"an altitude is {ALTITUDE_MIN_M:g} to {ALTITUDE_MAX_M:g} m above sea level, not {self.altitude_m:g} m"
            )

    @property
    def air_kpa(self) -> float:
        return station_pressure_kpa(self.altitude_m)


@dataclass(frozen=True, slots=True)
class Reach:
    """What tensiometers of one depth show.

    Args:
        head_kpa: taken off the vacuum at the transducer; also what it shows with the cup in water.
        usable_kpa: tension at the cup up to which they can be believed; zero or less: none.
    """

    head_kpa: float
    usable_kpa: float

    @property
    def proof_vacuum_kpa(self) -> float:
        """Vacuum at the transducer of an upright instrument when the tension at its cup passes the proof.

        >>> Reach(head_kpa=7.5, usable_kpa=72.0).proof_vacuum_kpa
        27.5
        """
        return PROOF_LEAST_KPA + self.head_kpa

    @property
    def good_vacuum_kpa(self) -> float:
        """Likewise when it is good."""
        return PROOF_GOOD_KPA + self.head_kpa


def reach_of(instrument: Instrument, site: Site) -> Reach:
    """Work out what instruments of a depth show at a site.

    >>> reach = reach_of(Instrument(600.0, 1), Site("", 420.0))
    >>> round(reach.head_kpa, 2), round(reach.usable_kpa, 1)
    (7.73, 72.4)
    """
    height_m = instrument.height_mm / 1000.0
    return Reach(
        head_kpa=head_kpa(height_m, site.water_c),
        usable_kpa=usable_limit_kpa(site.air_kpa, site.water_c, height_m, site.gas_margin_kpa),
    )


def head_per_10cm_kpa(site: Site) -> float:
    """
    >>> round(head_per_10cm_kpa(Site("", 0.0)), 3)
    0.979
    """
    return head_kpa(0.1, site.water_c)


def range_warning(instrument: Instrument, reach: Reach, ruler: Ruler) -> str:
    """Say that little of the range is left, or none; empty if there is enough.

    >>> range_warning(Instrument(600.0, 1), Reach(7.7, 72.4), Ruler.CM)
    ''
    """
    depth = ruler.text(instrument.depth_mm)
    if reach.usable_kpa <= 0.0:
        return (
            f"At a depth of {depth} a tensiometer shows no tension at all here: the air carries no water column of "
            f"{ruler.text(instrument.height_mm)} and something left to measure. Do not build it."
        )
    if reach.usable_kpa >= SHORT_RANGE_KPA:
        return ""
    least = reach.usable_kpa < PROOF_LEAST_KPA
    why = "too little to pass the bench proof" if least else "less than many limits for irrigation"
    return (
        f"At a depth of {depth} a tensiometer can be believed up to {reach.usable_kpa:.0f} kPa only here, {why}. "
        f"A shallower one gains 1 kPa with each {ruler.text(100.0 if ruler is Ruler.CM else 101.6)}."
    )
