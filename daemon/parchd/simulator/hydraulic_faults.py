"""Faults of tubes, cups and their contact with the soil."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between
from parchd.simulator.plan import FaultPlan
from parchd.simulator.scene import Scene
from parchd.simulator.vacuum import Tubes

Floats = NDArray[np.float64]
LEAK_BEGINS_H = 120.0
"""Time in which a fresh leak lets the vacuum go; it grows from there."""
BREAK_SHARE = (0.86, 0.97)
"""Share of its usable limit at which a cup breaks that is to break; others hold a little more than the limit."""


Column = Literal["lose_h", "leak_per_h", "choked_h", "crack_kpa", "slow_s", "gap_share", "gap_lag_h"]


@dataclass(slots=True)
class Spoiled:
    """Arrays of `Tubes` in the making, only those that some fault needs."""

    scene: Scene
    columns: dict[Column, Floats]

    def column(self, name: Column, otherwise: float) -> Floats:
        """Give an array by name; it begins with one number everywhere."""
        if name not in self.columns:
            shape = (self.scene.grid.size, len(self.scene.farm.names))
            self.columns[name] = np.full(shape, otherwise)
        return self.columns[name]


def spoil(scene: Scene, tubes: Tubes) -> Tubes:
    """Add the planned faults to healthy tubes, and to the truth; air entry is told when it happened."""
    spoiled = Spoiled(scene, {})
    for fault in scene.planned(*_FAULTS):
        _FAULTS[fault.kind](spoiled, fault, scene.rows(fault)[0])
    found = spoiled.columns.get
    lags, choked = found("gap_lag_h"), found("choked_h")
    return replace(
        tubes, slow_s=found("slow_s"), leak_per_h=found("leak_per_h"), choked_h=None if choked is None else choked[-1],
        crack_kpa=found("crack_kpa"), lose_h=found("lose_h"), gap_share=found("gap_share"),
        gap_lag_h=None if lags is None else lags[-1],
    )  # fmt: skip


def _lost_water(spoiled: Spoiled, fault: FaultPlan, row: int) -> None:
    scene, random = spoiled.scene, spoiled.scene.chance(fault)
    form = fault.form or ("slow" if random.random() < 0.4 else "collapse")
    hours = between(40.0, 10.0, fault.size) if form == "slow" else between(0.7, 0.05, fault.size)
    served = scene.served_after(scene.rows(fault)[0], fault.onset_us)
    end_us = scene.end_us(fault) if served is None else min(served.begin_us, scene.end_us(fault))
    first, last = scene.grid.index(fault.onset_us), scene.grid.index(end_us)
    spoiled.column("lose_h", np.nan)[first:last, row] = hours
    scene.happened(fault, hours, form=form, end_us=end_us)


def _air_leak(spoiled: Spoiled, fault: FaultPlan, row: int) -> None:
    scene, random = spoiled.scene, spoiled.scene.chance(fault)
    hours, weeks = between(15.0, 5.0, fault.size), random.uniform(2.0, 4.0)
    span = scene.span(fault)
    grown = np.clip(scene.grid.since_d(fault.onset_us)[span] / (7.0 * weeks), 0.0, 1.0)
    spoiled.column("leak_per_h", 0.0)[span, row] = 1.0 / (LEAK_BEGINS_H * (hours / LEAK_BEGINS_H) ** grown)
    spoiled.column("choked_h", 0.0)[:, row] = hours * random.uniform(0.5, 0.9)
    scene.happened(fault, hours)


def _cracked_cup(spoiled: Spoiled, fault: FaultPlan, row: int) -> None:
    kpa = between(5.0, 1.0, fault.size)
    spoiled.column("crack_kpa", np.nan)[spoiled.scene.span(fault), row] = kpa
    spoiled.scene.happened(fault, kpa)


def _slow_response(spoiled: Spoiled, fault: FaultPlan, row: int) -> None:
    scene = spoiled.scene
    hours, weeks = between(10.0, 60.0, fault.size), scene.chance(fault).uniform(2.0, 6.0)
    span = scene.span(fault)
    grown = np.clip(scene.grid.since_d(fault.onset_us)[span] / (7.0 * weeks), 0.0, 1.0)
    spoiled.column("slow_s", 0.0)[span, row] = 3600.0 * hours * grown
    scene.happened(fault, hours)


def _poor_contact(spoiled: Spoiled, fault: FaultPlan, row: int) -> None:
    scene = spoiled.scene
    share = between(0.45, 0.15, fault.size)
    spoiled.column("gap_share", np.nan)[scene.span(fault), row] = share
    spoiled.column("gap_lag_h", 24.0)[:, row] = scene.chance(fault).uniform(12.0, 48.0)
    scene.happened(fault, share)


_FAULTS: Mapping[FindingKind, Callable[[Spoiled, FaultPlan, int], None]] = MappingProxyType(
    {
        FindingKind.LOST_WATER: _lost_water,
        FindingKind.AIR_LEAK: _air_leak,
        FindingKind.CRACKED_CUP: _cracked_cup,
        FindingKind.SLOW_RESPONSE: _slow_response,
        FindingKind.POOR_CONTACT: _poor_contact,
    }
)
HYDRAULIC = tuple(_FAULTS)
"""Faults that are added to tubes; how much they show is known only once the tubes were followed."""
