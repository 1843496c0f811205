"""Frost: cold at the tops of the tubes, and ice in them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between
from parchd.simulator.plan import FaultPlan
from parchd.simulator.scene import Scene
from parchd.simulator.truth import Fault

Floats = NDArray[np.float64]
MILD_C = 3.5
"""A season without planned frost never gets colder."""
RISK_C, FREEZING_C, ICE_C = 2.0, 0.0, -0.5
FROZEN_AFTER_S = 3 * 3600.0
ONE_SPELL_US = 36 * 3600 * US_PER_S
WARMS_C_H = 1.2


@dataclass(frozen=True, slots=True)
class Cold:
    """What frost does to the site.

    Args:
        top_c: temperature at the tops of the tubes of each gateway.
        ice_kpa: see `parchd.simulator.vacuum.Tubes`; ``None``: nowhere.
    """

    top_c: dict[str, Floats]
    ice_kpa: Floats | None


def cold(scene: Scene) -> Cold:
    """Let planned cold spells come, and write down what they amount to."""
    mild = np.maximum(scene.grid.at_slots(np.append(scene.weather.top_c[:1], scene.weather.top_c)), MILD_C)
    top_c = dict.fromkeys(scene.plan.sources, mild)
    planned = scene.planned(FindingKind.FROST_RISK, FindingKind.FROZEN)
    for fault in planned:
        source = fault.target.removeprefix("source/")
        top_c[source] = np.minimum(top_c[source], _spell(scene, fault))
    ice = None
    for source in sorted({fault.target.removeprefix("source/") for fault in planned}):
        ice = _ice(scene, source, top_c[source], ice)
        for row in scene.farm.of_source(source):
            _tell(scene, scene.farm.names[row], top_c[source])
    return Cold(top_c, ice)


def _spell(scene: Scene, fault: FaultPlan) -> Floats:
    """Give how warm it can be at most around a cold spell."""
    random = scene.chance(fault)
    if fault.kind is FindingKind.FROZEN:
        floor, hours = between(-1.5, -5.0, fault.size), between(8.0, 60.0, fault.size)
    else:
        floor, hours = between(1.6, 0.3, fault.size), between(3.0, 8.0, fault.size)
    if fault.for_s is not None:
        hours = fault.for_s / 3600.0
    from_middle_h = np.abs(scene.grid.since_d(fault.onset_us) * 24.0 - 4.0 - hours / 2.0)
    waves = 0.3 * np.sin(from_middle_h / 2.3 + random.uniform(0.0, 6.0))
    spell: Floats = floor + np.maximum(waves, -0.2) + WARMS_C_H * np.maximum(from_middle_h - hours / 2.0, 0.0)
    return spell


def _ice(scene: Scene, source: str, top_c: Floats, before: Floats | None) -> Floats | None:
    frozen = top_c < ICE_C
    if not frozen.any():
        return before
    shape = (scene.grid.size, len(scene.farm.names))
    ice = np.full(shape, np.nan) if before is None else before
    for row in scene.farm.of_source(source):
        random = scene.chance(scene.planned(FindingKind.FROZEN, FindingKind.FROST_RISK)[0], scene.farm.names[row])
        kpa = np.inf if random.random() < 0.4 else -random.uniform(3.0, 20.0)
        ice[frozen, row] = kpa
    return ice


def _tell(scene: Scene, name: str, top_c: Floats) -> None:
    for kind, below_c, after_s in (
        (FindingKind.FROST_RISK, RISK_C, 0.0),
        (FindingKind.FROZEN, FREEZING_C, FROZEN_AFTER_S),
    ):
        for first_us, last_us, coldest in _spells(scene.grid.time_us, top_c, below_c, after_s):
            end_us = None if last_us >= scene.grid.time_us[-1] else last_us
            scene.faults.append(Fault(kind, f"tensiometer/{name}", first_us, end_us, coldest))


def _spells(time_us: NDArray[np.int64], top_c: Floats, below_c: float, after_s: float) -> list[tuple[int, int, float]]:
    """Give begin, end and lowest temperature of each spell; short pauses do not part them."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], top_c < below_c, [False])).astype(np.int8)))
    found: list[tuple[int, int, float]] = []
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        begin, end = int(time_us[first]), int(time_us[min(last, len(time_us) - 1)])
        if end - begin < after_s * US_PER_S:
            continue
        coldest = float(top_c[first:last].min())
        if found and begin - found[-1][1] < ONE_SPELL_US:
            found[-1] = (found[-1][0], end, min(coldest, found[-1][2]))
        else:
            found.append((begin, end, coldest))
    return found
