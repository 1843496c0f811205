"""How much of a fault must show, and what hides one: both by the truth alone."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind as K
from parchd.simulator.convert import Columns
from parchd.simulator.season import Fault

HOUR_US = 3600 * US_PER_S
LEAST_KPA, PLAIN_KPA = 1.0, 2.0
LEAST_H, COLLAPSE_H, ELECTRICAL_H, PLAIN_H = 24.0, 12.0, 1.0, 48.0
"""Hours in all, by what a fault is: most, collapses, electrical ones, and `PLAIN`."""
ELECTRICAL = frozenset(
    (
        K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED, K.NOISY_SUPPLY, K.DROP_OUTS, K.SILENT_CHANNEL, K.SILENT_SOURCE,
        K.BYTE_ORDER, K.WRONG_UNIT, K.WRONG_CLOCK, K.FROZEN,
    )
)  # fmt: skip
"""Wires, words and delivery; and ice, which a thermometer tells of."""
PLAIN = frozenset((K.LEVEL_SHIFT, K.ZERO_DRIFT, K.AIR_LEAK, K.CRACKED_CUP, K.POOR_CONTACT, K.SLOW_RESPONSE))
"""Kinds that must change the tension by `PLAIN_KPA` for `PLAIN_H` as well: less is what soils do by themselves."""

_SOIL_SIDE = frozenset((*PLAIN, K.LOST_WATER, K.AIR_ENTRY, K.FROZEN, K.SWAPPED, K.BLOCKED_VENT))
_SHAKES = frozenset((K.NOISY_SUPPLY, K.DROP_OUTS))
_WIRES = frozenset((K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED))
_WORDS = frozenset((K.STUCK_VALUE, K.BYTE_ORDER, K.WRONG_UNIT))
_DELIVERY = frozenset((K.SILENT_CHANNEL, K.SILENT_SOURCE, K.WRONG_CLOCK))
HIDES: Mapping[K, frozenset[K]] = MappingProxyType(
    {
        **dict.fromkeys((K.LOST_WATER, K.AIR_ENTRY, K.FROZEN), _SOIL_SIDE),
        **dict.fromkeys(_WIRES, _SOIL_SIDE | _SHAKES | _WIRES | _WORDS),
        K.STUCK_VALUE: _SOIL_SIDE | _SHAKES | _WIRES | _WORDS,
        **dict.fromkeys((K.SILENT_CHANNEL, K.SILENT_SOURCE), _SOIL_SIDE | _SHAKES | _WIRES | _WORDS | _DELIVERY),
    }
)
"""What nobody can see while a fault of some kind holds on the same tensiometer, or on its source."""


def hours_wanted(fault: Fault) -> float:
    """For how many hours in all a fault must change the tension.

    >>> hours_wanted(Fault(K.DROP_OUTS, "source/a", 0, None, 1.0))
    1.0
    """
    if fault.kind in ELECTRICAL:
        return ELECTRICAL_H
    collapse = fault.kind is K.AIR_ENTRY or (fault.kind is K.LOST_WATER and fault.form != "slow")
    return COLLAPSE_H if collapse else LEAST_H


def hides(one: Fault, fault: Fault) -> bool:
    """Tell whether one fault hides another on the same tensiometer; of two that hide each other the earlier does."""
    if one is fault or fault.kind not in HIDES.get(one.kind, ()):
        return False
    mutual = one.kind in HIDES.get(fault.kind, ())
    return not mutual or one.start_us <= fault.start_us


def hidden(
    times: NDArray[np.int64], fault: Fault, others: Iterable[Fault], here: Columns
) -> dict[K, NDArray[np.bool_]]:
    """Tell which moments of a fault lie within what hides it, by the kind of that.

    Args:
        others: faults that concern the same tensiometer.
        here: its readings: a loose wire hides only those that it spoils.
    """
    found: dict[K, NDArray[np.bool_]] = {}
    for one in others:
        if not hides(one, fault):
            continue
        within = (times >= one.start_us) & (times <= (times.max(initial=0) if one.end_us is None else one.end_us))
        if one.kind in _WIRES:
            within &= ~np.isin(times, here.time_us[np.isfinite(here.tension_kpa)])
        if within.any():
            found[one.kind] = found.get(one.kind, np.zeros(len(times), dtype=np.bool_)) | within
    return found
