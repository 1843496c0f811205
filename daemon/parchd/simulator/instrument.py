"""Healthy tensiometers: how fast they answer, when their cups break, what services do to them."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between, shown, stream
from parchd.simulator.field import Drought
from parchd.simulator.grid import SLOT_US
from parchd.simulator.hydraulic_faults import BREAK_SHARE, HYDRAULIC, spoil
from parchd.simulator.scene import Scene
from parchd.simulator.truth import Fault
from parchd.simulator.vacuum import Followed, Tubes, follow

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Cups:
    """How each cup lets air in; see `Tubes`."""

    break_kpa: Floats
    hold_h: Floats
    drop_share: Floats
    fade_h: Floats


def cups(scene: Scene) -> Cups:
    """Draw the cups; those that are planned to break do so below the usable limit."""
    farm = scene.farm
    rows = len(farm.names)
    random = stream(scene.plan.seed, "cups")
    made = Cups(
        farm.limit_kpa * random.uniform(1.02, 1.08, rows), random.uniform(2.0, 12.0, rows),
        random.uniform(0.0, 0.5, rows), np.exp(random.uniform(np.log(6.0), np.log(72.0), rows)),
    )  # fmt: skip
    for fault in scene.planned(FindingKind.AIR_ENTRY):
        row = scene.rows(fault)[0]
        made.break_kpa[row] = farm.limit_kpa[row] * between(*BREAK_SHARE, fault.size)
    return made


def droughts(scene: Scene, made: Cups) -> tuple[Drought, ...]:
    """Give the stations that must run dry for their cups to break."""
    return tuple(
        Drought(row, (fault.onset_us - scene.plan.start_us) // SLOT_US, float(made.break_kpa[row]))
        for fault in scene.planned(FindingKind.AIR_ENTRY)
        for row in scene.rows(fault)
    )


def run(scene: Scene, made: Cups, soil_kpa: Floats, ice_kpa: Floats | None) -> Followed:
    """Follow all tubes; write down which cups let air in."""
    farm = scene.farm
    random = stream(scene.plan.seed, "tubes")
    tau_s = np.exp(random.uniform(np.log(60.0), np.log(1200.0), len(farm.names)))
    tubes = Tubes(
        scene.grid, soil_kpa, farm.head_kpa, tau_s, made.break_kpa, made.hold_h, made.drop_share, made.fade_h,
        ice_kpa=ice_kpa,
    )  # fmt: skip
    healthy = _served(scene, tubes)
    spoiled = spoil(scene, healthy)
    followed = follow(spoiled)
    if scene.planned(*HYDRAULIC):
        _weigh(scene, follow(healthy).vacuum_kpa - followed.vacuum_kpa)
    for row, moment in followed.broken:
        begin_us = int(scene.grid.time_us[moment])
        served = scene.served_after(row, begin_us)
        end_us = None if served is None else served.begin_us
        subject = f"tensiometer/{farm.names[row]}"
        scene.faults.append(Fault(FindingKind.AIR_ENTRY, subject, begin_us, end_us, float(made.break_kpa[row])))
    return followed


def _weigh(scene: Scene, error_kpa: Floats) -> None:
    """Write down how much each fault of a tube shows."""
    for number, fault in enumerate(scene.faults):
        if fault.kind in HYDRAULIC:
            span = slice(scene.grid.index(fault.start_us), scene.grid.index(fault.end_us or scene.plan.end_us))
            error = error_kpa[span, scene.farm.number_of(fault.subject)]
            scene.faults[number] = replace(fault, effect_kpa=shown(error))


def _served(scene: Scene, tubes: Tubes) -> Tubes:
    """Open tubes at services, and let them settle afterwards."""
    if not scene.services:
        return tubes
    shape = tubes.soil_kpa.shape
    open_, settle_s = np.zeros(shape, dtype=np.bool_), np.zeros(shape)
    refilled = np.zeros(shape, dtype=np.bool_)
    for service in scene.services:
        random = stream(scene.plan.seed, "service", str(service.begin_us))
        for name in service.tensiometers:
            row = scene.farm.names.index(name)
            at_us = int(random.uniform(service.begin_us, service.end_us))
            first = scene.grid.index(at_us)
            last = first + max(1, round(random.uniform(0.0, 1.0) * 1800.0 / scene.grid.step_s + random.random()))
            hours = random.uniform(0.5, 6.0)
            open_[first:last, row] = refilled[first:last, row] = True
            refilled[scene.grid.index(service.begin_us) : last, row] = True
            settle_s[last : last + scene.grid.hours(3.0 * hours), row] = hours * 3600.0 / 3.0
    return replace(tubes, open_=open_, settle_s=settle_s, refilled=refilled)
