"""What a season is to be like."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from types import MappingProxyType

from parchd.clock import from_datetime
from parchd.diagnosis.kinds import FindingKind

ZONES: Mapping[str, str] = MappingProxyType(
    {"north": "north block", "creek": "creek terrace", "nursery": "nursery", "hill": "hill strip", "pond": "pond field"}
)
GATEWAYS = ("gateway-a", "gateway-b", "gateway-c", "gateway-d", "gateway-e")


@dataclass(frozen=True, slots=True)
class FaultPlan:
    """One fault to inject.

    Args:
        kind: what.
        target: ``tensiometer/NAME`` or ``source/NAME``.
        onset_us: when it begins.
        size: mild 0 to strong 1.
        for_s: how long; ``None``: for ever, or as long as such a fault lasts.
        form: for kinds with more than one course: ``collapse`` or ``slow`` of a lost water column.
    """

    kind: FindingKind
    target: str
    onset_us: int
    size: float = 0.5
    for_s: float | None = None
    form: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """A season before it happens; `parchd.simulator.draw.draw_plan` draws one at random.

    Args:
        seed: of all that is left to chance.
        days: length.
        start_us: first moment.
        interval_s: between samples; a divisor or a multiple of 900 s is best.
        soils: a class of `parchd.physics.retention.SOILS` for each zone.
        crop, climate: keys of `CROPS` and `CLIMATES`.
        stations: in each zone.
        depths_m: of the cups of each station, shallow first.
        faults: what goes wrong.
        wirings: a key of `parchd.simulator.wiring.WIRINGS` for each source.
        one_source: one gateway for all zones, not one for each.
        averaged: gateways send means over the interval, not single samples.
        altitude_m: of the site.
        services: how often somebody tops tubes up.
        thermometer: whether each gateway also sends the temperature at the tops of the tubes.
        barometer: whether the first gateway also sends the pressure of the air.
        ripple: how strong daily ripple is, 0 to 1.
        noise_kpa: standard deviation of a healthy channel.
        troubles: gaps, late deliveries and spikes of a healthy farm: how many for each source and month.
    """

    seed: int
    days: int = 180
    start_us: int = from_datetime(datetime(2026, 4, 1, tzinfo=UTC))
    interval_s: float = 900.0
    soils: tuple[str, ...] = ("loam", "loam", "loam")
    crop: str = "tomatoes"
    climate: str = "dry summer"
    stations: int = 2
    depths_m: tuple[float, ...] = (0.3, 0.6)
    faults: tuple[FaultPlan, ...] = ()
    wirings: tuple[str, ...] = ("ratiometric 5 V, 12 bits",)
    one_source: bool = False
    averaged: bool = False
    altitude_m: float = 100.0
    services: int = 2
    thermometer: bool = False
    barometer: bool = False
    ripple: float = 0.4
    noise_kpa: float = 0.05
    troubles: float = 1.0

    @property
    def zones(self) -> tuple[str, ...]:
        """Names of the zones."""
        return tuple(ZONES)[: len(self.soils)]

    @property
    def sources(self) -> tuple[str, ...]:
        """Names of the gateways."""
        return GATEWAYS[:1] if self.one_source else GATEWAYS[: len(self.soils)]

    @property
    def end_us(self) -> int:
        return self.start_us + self.days * 86_400_000_000

    def source_of(self, zone: int) -> str:
        """Name of the gateway of a zone, by the zone's number."""
        return self.sources[0 if self.one_source else zone]

    def wiring_of(self, source: str) -> str:
        """How the transducers of a gateway are wired."""
        return self.wirings[self.sources.index(source) % len(self.wirings)]
