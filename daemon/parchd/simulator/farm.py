"""The farm of a season: what stands where, and on which channel it is read."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Place
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.head import head_kpa
from parchd.physics.limit import physical_ceiling_kpa, usable_limit_kpa
from parchd.pipeline.setup import PipelineSetup, SiteSetup, TensiometerSetup
from parchd.simulator.chance import stream
from parchd.simulator.climate import CLIMATES
from parchd.simulator.plan import Plan
from parchd.simulator.wiring import WIRINGS

LOWEST_KPA = -15.0
THERMOMETER, BAROMETER = "top-temperature", "air-pressure"


@dataclass(frozen=True)
class Farm:
    """All tensiometers, by zone, station and depth, in this order; numbers of one are its row everywhere."""

    plan: Plan

    @cached_property
    def names(self) -> tuple[str, ...]:
        """``zone-station-depth_cm``."""
        plan = self.plan
        return tuple(
            f"{zone}-{station + 1}-{round(depth * 100)}"
            for zone in plan.zones
            for station in range(plan.stations)
            for depth in plan.depths_m
        )

    @cached_property
    def zone_of(self) -> NDArray[np.intp]:
        """Number of each tensiometer's zone."""
        return np.arange(len(self.names)) // (self.plan.stations * len(self.plan.depths_m))

    @cached_property
    def station_of(self) -> NDArray[np.intp]:
        """Number of each tensiometer's station, counted over all zones."""
        return np.arange(len(self.names)) // len(self.plan.depths_m)

    @cached_property
    def depth_m(self) -> NDArray[np.float64]:
        return np.tile(np.array(self.plan.depths_m), self.plan.stations * len(self.plan.soils))

    @cached_property
    def height_m(self) -> NDArray[np.float64]:
        """Height of each transducer above its cup."""
        spare = stream(self.plan.seed, "heights").uniform(0.10, 0.20, len(self.names))
        height: NDArray[np.float64] = np.round(self.depth_m + spare, 2)
        return height

    @cached_property
    def head_kpa(self) -> NDArray[np.float64]:
        head: NDArray[np.float64] = head_kpa(self.height_m, 20.0)
        return head

    @cached_property
    def limit_kpa(self) -> NDArray[np.float64]:
        """Usable limit of each at its cup."""
        limit: NDArray[np.float64] = usable_limit_kpa(np.full_like(self.height_m, self._air_kpa), 20.0, self.height_m)
        return limit

    @cached_property
    def _air_kpa(self) -> float:
        air: float = station_pressure_kpa(self.plan.altitude_m)
        return air

    @cached_property
    def setup(self) -> PipelineSetup:
        """What the pipeline knows of it: nominal lines, true heights."""
        plan = self.plan
        site = SiteSetup("Quillmere Orchard", CLIMATES[plan.climate].time_zone, plan.altitude_m)
        return PipelineSetup(site, tuple(self._tensiometer(site, number) for number in range(len(self.names))))

    def source_of(self, number: int) -> str:
        return self.plan.source_of(int(self.zone_of[number]))

    def channel_of(self, number: int) -> str:
        """``source/channel``; channels count from 1 on each gateway."""
        source = self.source_of(number)
        before = sum(self.source_of(other) == source for other in range(number))
        return f"{source}/ch{before + 1:02d}"

    def of_source(self, source: str) -> list[int]:
        """Numbers of the tensiometers of a gateway."""
        return [number for number in range(len(self.names)) if self.source_of(number) == source]

    def number_of(self, subject: str) -> int:
        """Number of ``tensiometer/NAME``.

        Raises:
            ValueError: no such tensiometer.
        """
        return self.names.index(subject.removeprefix("tensiometer/"))

    @property
    def barometer_channel(self) -> str | None:
        return f"{self.plan.sources[0]}/{BAROMETER}" if self.plan.barometer else None

    def _tensiometer(self, site: SiteSetup, number: int) -> TensiometerSetup:
        plan, name = self.plan, self.names[number]
        zone, station, _ = name.split("-")
        source = self.source_of(number)
        wiring = WIRINGS[plan.wiring_of(source)]
        height = float(self.height_m[number])
        return TensiometerSetup(
            place=Place(site.name, zone, f"station {station}", name, float(self.depth_m[number])),
            channel=self.channel_of(number),
            transducer=wiring.transducer,
            height_m=height,
            usable_limit_kpa=float(self.limit_kpa[number]),
            lowest_kpa=LOWEST_KPA,
            highest_kpa=physical_ceiling_kpa(self._air_kpa, 10.0, height),
            interval_s=plan.interval_s,
            adc=wiring.converter if wiring.has_rails else None,
            temperature_channel=f"{source}/{THERMOMETER}" if plan.thermometer else None,
            air_kpa=self._air_kpa,
        )
