"""Transducers: what they make of the pressure, and how their zero goes wrong."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between, shown, stream
from parchd.simulator.plan import FaultPlan
from parchd.simulator.scene import Scene

Floats = NDArray[np.float64]
DRIFT_KPA_D = (0.05, 0.25)
DRIFT_AT_LEAST_KPA, DRIFT_AT_MOST_KPA = 4.0, 15.0


def measured(scene: Scene, vacuum_kpa: Floats, air_kpa: Floats) -> Floats:
    """Give the gauge pressure that each transducer takes its own for, at each sample.

    Args:
        vacuum_kpa: at each sample, by tensiometer.
        air_kpa: pressure of the air at each sample.
    """
    rows = len(scene.farm.names)
    random = stream(scene.plan.seed, "transducers")
    zero, span = random.normal(0.0, 0.2, rows).clip(-0.5, 0.5), 1.0 + random.normal(0.0, 0.004, rows).clip(-0.01, 0.01)
    gauge: Floats = -vacuum_kpa * span + zero
    noise = scene.plan.noise_kpa * random.uniform(0.5, 1.6, rows)
    gauge += random.standard_normal(gauge.shape) * noise
    for fault in scene.planned(*_FAULTS):
        _FAULTS[fault.kind](scene, fault, gauge)
    for fault in scene.planned(FindingKind.BLOCKED_VENT):
        _blocked_vent(scene, fault, gauge, air_kpa)
    return gauge


def _level_shift(scene: Scene, fault: FaultPlan, gauge: Floats) -> None:
    random, row = scene.chance(fault), scene.rows(fault)[0]
    kpa = between(4.0, 15.0, fault.size) * float(random.choice([-1.0, 1.0]))
    end_us = scene.end_us(fault)
    served = scene.served_after(row, fault.onset_us)
    if served is not None and random.random() < 0.5:
        end_us = min(end_us, served.begin_us)
    gauge[scene.grid.sample_index(fault.onset_us) : scene.grid.sample_index(end_us), row] -= kpa
    scene.happened(fault, kpa, end_us=end_us, effect_kpa=abs(kpa))


def _zero_drift(scene: Scene, fault: FaultPlan, gauge: Floats) -> None:
    row, span = scene.rows(fault)[0], scene.samples(fault)
    days = (scene.grid.sample_us[span] - fault.onset_us) / (86_400.0 * US_PER_S)
    if not len(days):
        return
    rate = max(between(*DRIFT_KPA_D, fault.size), DRIFT_AT_LEAST_KPA / days[-1])
    sign = scene.chance(fault).choice([-1.0, 1.0])
    off = np.minimum(rate * days, DRIFT_AT_MOST_KPA)
    gauge[span, row] -= sign * off
    scene.happened(fault, sign * rate, effect_kpa=shown(off))


def _blocked_vent(scene: Scene, fault: FaultPlan, gauge: Floats, air_kpa: Floats) -> None:
    row, span = scene.rows(fault)[0], scene.samples(fault)
    if span.start >= len(air_kpa):
        return
    change = air_kpa[span] - air_kpa[span.start]
    gauge[span, row] += change
    scene.happened(fault, float(np.abs(change).max()), effect_kpa=shown(change))


def _noisy_supply(scene: Scene, fault: FaultPlan, gauge: Floats) -> None:
    random, span = scene.chance(fault), scene.samples(fault)
    kpa = between(1.0, 6.0, fault.size)
    rows = scene.rows(fault)
    length = len(gauge[span])
    together = random.uniform(0.3, 0.9)
    common = random.standard_normal((length, 1)) * np.sqrt(together)
    own = random.standard_normal((length, len(rows))) * np.sqrt(1.0 - together)
    gauge[span, rows] += kpa * random.uniform(0.8, 1.2, len(rows)) * (common + own)
    scene.happened(fault, kpa)


def _swapped(scene: Scene, fault: FaultPlan, gauge: Floats) -> None:
    row, span, farm = scene.rows(fault)[0], scene.samples(fault), scene.farm
    station = np.flatnonzero(farm.station_of == farm.station_of[row])
    other = int(station[0] if station[-1] == row else station[station > row][0])
    gauge[span, [row, other]] = gauge[span, [other, row]]
    effect = shown(gauge[span, row] - gauge[span, other] + farm.head_kpa[row] - farm.head_kpa[other])
    scene.happened(fault, 1.0, others=(farm.names[other],), effect_kpa=effect)


_FAULTS: Mapping[FindingKind, Callable[[Scene, FaultPlan, Floats], None]] = MappingProxyType(
    {
        FindingKind.LEVEL_SHIFT: _level_shift,
        FindingKind.ZERO_DRIFT: _zero_drift,
        FindingKind.NOISY_SUPPLY: _noisy_supply,
        FindingKind.SWAPPED: _swapped,
    }
)
