"""Gateways: which samples come, when, and with what time on them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.contract import Unit
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between, stream
from parchd.simulator.farm import BAROMETER, THERMOMETER
from parchd.simulator.plan import FaultPlan
from parchd.simulator.scene import Scene
from parchd.simulator.wiring import WIRINGS

Floats = NDArray[np.float64]
_HOUR_US = 3600 * US_PER_S


@dataclass(frozen=True, slots=True)
class Track:
    """One channel as its gateway delivers it, in the order of delivery.

    That is the order of measurement too, unless the gateway's clock went wrong.

    Args:
        time_us: when it says that it measured.
        received_us: when it came.
        value: in ``unit``; NaN: the device sent "no value".
    """

    time_us: NDArray[np.int64]
    received_us: NDArray[np.int64]
    value: Floats
    unit: Unit


def tracks(scene: Scene, numbers: Floats, top_c: dict[str, Floats], air_kpa: Floats) -> dict[str, Track]:
    """Deliver all channels of all gateways.

    Args:
        numbers: by sample and tensiometer.
        top_c: by gateway, at each moment of the grid.
        air_kpa: at each sample.
    """
    out: dict[str, Track] = {}
    for source in scene.plan.sources:
        time_us, received_us, comes = _times(scene, source)
        order = np.argsort(received_us[comes], kind="stable")
        chosen = np.flatnonzero(comes)[order]
        for name, value, unit in _columns(scene, source, numbers, top_c[source], air_kpa):
            mine = chosen[_speaks(scene, name)[chosen]]
            out[name] = Track(time_us[mine], received_us[mine], value[mine], unit)
    return out


def _columns(
    scene: Scene, source: str, numbers: Floats, top_c: Floats, air_kpa: Floats
) -> list[tuple[str, Floats, Unit]]:
    farm, each = scene.farm, scene.grid.each
    unit = WIRINGS[scene.plan.wiring_of(source)].unit
    columns = [(farm.channel_of(row), numbers[:, row], unit) for row in farm.of_source(source)]
    if scene.plan.thermometer:
        columns.append((f"{source}/{THERMOMETER}", np.round(top_c[each - 1 :: each], 1), Unit.CELSIUS))
    if farm.barometer_channel == f"{source}/{BAROMETER}":
        columns.append((f"{source}/{BAROMETER}", np.round(air_kpa * 10.0, 1), Unit.HPA))
    return columns


def _times(scene: Scene, source: str) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Give the times on the samples, when they come, and whether they do."""
    random = stream(scene.plan.seed, "gateway", source)
    true_us = scene.grid.sample_us
    time_us = true_us.copy()
    received_us = true_us + random.integers(1, 20, len(true_us)) * US_PER_S
    comes = np.ones(len(true_us), dtype=np.bool_)
    for _ in range(random.poisson(0.7 * scene.plan.troubles * scene.plan.days / 30.0)):
        first = int(random.integers(0, len(true_us)))
        hours = float(np.exp(random.uniform(np.log(0.25), np.log(8.0))))
        last = min(first + max(1, round(hours * 3600.0 / scene.plan.interval_s)), len(true_us))
        if random.random() < 0.5:
            comes[first:last] = False
        else:
            back_us = int(received_us[last - 1])
            received_us[first:last] = back_us + np.arange(last - first) * 20_000
    for fault in scene.planned(FindingKind.SILENT_SOURCE):
        if fault.target == f"source/{source}":
            comes[scene.samples(fault)] = False
            scene.happened(fault, (scene.end_us(fault) - fault.onset_us) / _HOUR_US)
    for fault in scene.planned(FindingKind.WRONG_CLOCK):
        if fault.target == f"source/{source}":
            _set_clock(scene, fault, time_us)
    received_us = np.maximum.accumulate(received_us)
    return time_us, received_us, comes


def _set_clock(scene: Scene, fault: FaultPlan, time_us: NDArray[np.int64]) -> None:
    random, span = scene.chance(fault), scene.samples(fault)
    if fault.form == "1970" or (not fault.form and random.random() < 0.3):
        off_us = -int(scene.plan.start_us + int(random.uniform(0, 86_400)) * US_PER_S)
    elif random.random() < 0.2:
        off_us = int(random.choice([-2, -1, 1, 2])) * 365 * 24 * _HOUR_US
    else:
        off_us = -round(between(1.0, 12.0, fault.size) * 4.0) * _HOUR_US // 4
    time_us[span] += off_us
    scene.happened(fault, off_us / _HOUR_US)


def _speaks(scene: Scene, channel: str) -> NDArray[np.bool_]:
    """Whether a channel says anything, sample by sample."""
    speaks = np.ones(scene.grid.intervals, dtype=np.bool_)
    for fault in scene.planned(FindingKind.SILENT_CHANNEL):
        if scene.farm.channel_of(scene.rows(fault)[0]) == channel:
            speaks[scene.samples(fault)] = False
            scene.happened(fault, (scene.end_us(fault) - fault.onset_us) / _HOUR_US)
    return speaks
