"""Wires, converters and words: what goes wrong between the transducer and the number that is sent."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.chance import between, stream
from parchd.simulator.plan import FaultPlan
from parchd.simulator.scene import Scene
from parchd.simulator.wiring import WIRINGS, Wiring

Floats = NDArray[np.float64]
FACTORS = (0.1, 10.0, 6.895, 0.145)
LOST_OF_MEAN = (0.05, 0.3)
"""Share of an interval in which the supply was away."""
LOST_PER_DAY = (2.0, 30.0)
LOST_AT_MOST, TRAILS = 0.15, 0.3
"""No more than this share of the samples is hit, whatever the interval; of means, so many hit the next one too."""


def sent(scene: Scene, gauge_kpa: Floats) -> Floats:
    """Give the numbers that the gateways send; NaN: no value."""
    wirings = [WIRINGS[scene.plan.wiring_of(scene.farm.source_of(row))] for row in range(gauge_kpa.shape[1])]
    signal = np.empty_like(gauge_kpa)
    for row, wiring in enumerate(wirings):
        signal[:, row] = wiring.signal(gauge_kpa[:, row])
    _spikes(scene, signal)
    for fault in scene.planned(FindingKind.DROP_OUTS):
        _drop_outs(scene, fault, signal, wirings)
    for fault in scene.planned(FindingKind.OPEN_CIRCUIT, FindingKind.SHORT_CIRCUIT):
        _broken_wire(scene, fault, signal, wirings)
    numbers = np.empty_like(signal)
    for row, wiring in enumerate(wirings):
        numbers[:, row] = wiring.sent(signal[:, row])
    for fault in scene.planned(*_WORDS):
        _WORDS[fault.kind](scene, fault, numbers, wirings)
    return numbers


def _spikes(scene: Scene, signal: Floats) -> None:
    """Put a few single samples off, as lightning and pumps do."""
    random = stream(scene.plan.seed, "spikes")
    months = scene.plan.days / 30.0
    for row in range(signal.shape[1]):
        count = random.poisson(0.15 * months * scene.plan.troubles)
        for at in random.integers(1, len(signal), count):
            signal[at, row] *= 1.0 + random.choice([-1.0, 1.0]) * random.uniform(0.05, 0.2)


def _drop_outs(scene: Scene, fault: FaultPlan, signal: Floats, wirings: list[Wiring]) -> None:
    random, span = scene.chance(fault), scene.samples(fault)
    per_day = drop_outs_per_day(fault.size, scene.plan.interval_s, averaged=scene.plan.averaged)
    length = len(signal[span])
    hits = span.start + np.flatnonzero(random.random(length) < per_day * scene.plan.interval_s / 86_400.0)
    rows = scene.rows(fault)
    dead = np.array([wiring.dead_signal for wiring in wirings])[rows]
    for at in hits.tolist():
        lost = random.uniform(*LOST_OF_MEAN) if scene.plan.averaged else random.uniform(0.6, 1.0)
        signal[at, rows] += lost * (dead - signal[at, rows])
        if scene.plan.averaged and random.random() < TRAILS and at + 1 < len(signal):
            signal[at + 1, rows] += 0.5 * lost * (dead - signal[at + 1, rows])
    scene.happened(fault, per_day)


def drop_outs_per_day(size: float, interval_s: float, *, averaged: bool) -> float:
    """Give how often the supply is away, for a fault from mild 0 to strong 1.

    >>> drop_outs_per_day(1.0, 600.0, averaged=False), drop_outs_per_day(1.0, 3600.0, averaged=False)
    (21.6, 3.6)
    """
    hit = LOST_AT_MOST / (1.0 + TRAILS) if averaged else LOST_AT_MOST
    low, high = LOST_PER_DAY
    return between(low, min(high, hit * 86_400.0 / interval_s), size)


def _broken_wire(scene: Scene, fault: FaultPlan, signal: Floats, wirings: list[Wiring]) -> None:
    random, row = scene.chance(fault), scene.rows(fault)[0]
    is_open = fault.kind is FindingKind.OPEN_CIRCUIT
    level = wirings[row].open_signal if is_open else wirings[row].short_signal
    if level != level:
        return
    for part in _spans(scene, fault):
        signal[part, row] = level + abs(level) * 0.003 * random.standard_normal(len(signal[part]))
    scene.happened(fault, level)


def _saturated(scene: Scene, fault: FaultPlan, numbers: Floats, wirings: list[Wiring]) -> None:
    row = scene.rows(fault)[0]
    if not wirings[row].has_rails:
        return
    for part in _spans(scene, fault):
        numbers[part, row] = wirings[row].rail()
    scene.happened(fault, wirings[row].rail())


def _spans(scene: Scene, fault: FaultPlan) -> list[slice]:
    """Give the stretches of samples of a loose contact: one for strong ones, some of hours for mild ones."""
    whole, random = scene.samples(fault), scene.chance(fault, "spans")
    if fault.size > 0.4:
        return [whole]
    spans, at = [], whole.start
    while at < whole.stop:
        length = max(2, int(random.uniform(2.0, 20.0) * 3600.0 / scene.plan.interval_s))
        spans.append(slice(at, min(at + length, whole.stop)))
        at += length + int(random.uniform(2.0, 60.0) * 3600.0 / scene.plan.interval_s)
    return spans


def _stuck(scene: Scene, fault: FaultPlan, numbers: Floats, wirings: list[Wiring]) -> None:
    del wirings
    row, span = scene.rows(fault)[0], scene.samples(fault)
    if span.start < len(numbers):
        numbers[span, row] = numbers[span.start, row]
        scene.happened(fault, float(numbers[span.start, row]))


def _byte_order(scene: Scene, fault: FaultPlan, numbers: Floats, wirings: list[Wiring]) -> None:
    row, span = scene.rows(fault)[0], scene.samples(fault)
    part = numbers[span, row]
    if wirings[row].word_bytes == 2:
        converter = wirings[row].converter
        words = part.astype(np.int64).astype(np.int16 if converter and converter.signed else np.uint16)
        numbers[span, row] = words.byteswap().astype(np.float64)
    else:
        numbers[span, row] = _words_exchanged(part, whole=fault.size > 0.5)
    scene.happened(fault, float(wirings[row].word_bytes))


def _words_exchanged(values: Floats, *, whole: bool) -> Floats:
    """Give floats whose two words, or all four bytes, come in the wrong order; NaN where that is no number."""
    raw = values.astype(np.float32)
    words = raw.view(np.uint16).reshape(-1, 2)
    turned = raw.byteswap() if whole else words[:, ::-1].copy().view(np.float32).ravel()
    with np.errstate(invalid="ignore"):
        out = turned.astype(np.float64)
    out[~np.isfinite(out)] = np.nan
    return out


def _wrong_unit(scene: Scene, fault: FaultPlan, numbers: Floats, wirings: list[Wiring]) -> None:
    del wirings
    row, factor = scene.rows(fault)[0], float(scene.chance(fault).choice(FACTORS))
    numbers[scene.samples(fault), row] *= factor
    scene.happened(fault, factor)


_WORDS: Mapping[FindingKind, Callable[[Scene, FaultPlan, Floats, list[Wiring]], None]] = MappingProxyType(
    {
        FindingKind.SATURATED: _saturated,
        FindingKind.STUCK_VALUE: _stuck,
        FindingKind.BYTE_ORDER: _byte_order,
        FindingKind.WRONG_UNIT: _wrong_unit,
    }
)
