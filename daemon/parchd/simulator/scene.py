"""What every part of a season looks at, and the truth it adds to."""

import math
from dataclasses import dataclass, field

import numpy as np

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import stream
from parchd.simulator.farm import Farm
from parchd.simulator.grid import Grid
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.truth import Fault, Service
from parchd.simulator.weather import Weather


@dataclass(slots=True)
class Scene:
    """A season in the making.

    Args:
        farm: what stands where.
        grid: moments and samples.
        weather: of the site.
        services: who opened which tubes when.
        faults: the truth so far.
    """

    farm: Farm
    grid: Grid
    weather: Weather
    services: tuple[Service, ...] = ()
    faults: list[Fault] = field(default_factory=list)

    @property
    def plan(self) -> Plan:
        return self.farm.plan

    def planned(self, *kinds: FindingKind) -> list[FaultPlan]:
        """Faults of these kinds that are to be injected."""
        return [fault for fault in self.plan.faults if fault.kind in kinds]

    def chance(self, fault: FaultPlan, purpose: str = "") -> np.random.Generator:
        """Random numbers of one fault."""
        return stream(self.plan.seed, fault.kind, fault.target, purpose)

    def rows(self, fault: FaultPlan) -> list[int]:
        """Numbers of the tensiometers that a fault touches."""
        kind, _, name = fault.target.partition("/")
        return self.farm.of_source(name) if kind == "source" else [self.farm.number_of(fault.target)]

    def end_us(self, fault: FaultPlan) -> int:
        """When a fault is over: not before the season, unless its plan says so."""
        if fault.for_s is None:
            return self.plan.end_us
        return min(self.plan.end_us, fault.onset_us + round(fault.for_s * US_PER_S))

    def served_after(self, row: int, time_us: int) -> Service | None:
        """The first service of a tensiometer after a moment."""
        name = self.farm.names[row]
        later = (one for one in self.services if one.begin_us > time_us and name in one.tensiometers)
        return min(later, key=lambda one: one.begin_us, default=None)

    def happened(
        self,
        fault: FaultPlan,
        size: float,
        *,
        end_us: int | None = None,
        form: str | None = None,
        others: tuple[str, ...] | None = None,
        effect_kpa: float = math.nan,
    ) -> None:
        """Write a fault down as it was planned, but for what changed."""
        if end_us is None:
            end_us = self.end_us(fault)
        if others is None:
            others = tuple(self.farm.names[row] for row in self.rows(fault) if fault.target.startswith("source/"))
        over_us = None if end_us >= self.plan.end_us else end_us
        made = Fault(
            fault.kind, fault.target, fault.onset_us, over_us, float(size), others, form or fault.form, effect_kpa
        )
        self.faults.append(made)

    def span(self, fault: FaultPlan) -> slice:
        """The moments of a fault."""
        return slice(self.grid.index(fault.onset_us), self.grid.index(self.end_us(fault)))

    def samples(self, fault: FaultPlan) -> slice:
        """The samples of a fault."""
        return slice(self.grid.sample_index(fault.onset_us), self.grid.sample_index(self.end_us(fault)))
