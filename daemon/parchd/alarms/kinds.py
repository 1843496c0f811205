"""The kinds of alarms, how urgent each is, and what people may change about it."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from parchd.contract import Priority


class AlarmKind(StrEnum):
    """What a person must respond to. The words are stored: never change one."""

    IRRIGATE_NOW = "irrigate-now"
    IRRIGATE_PLAN = "irrigate-plan"
    DRYING_FAST = "drying-fast"
    WET_TOO_LONG = "wet-too-long"
    OWN_RULE = "own-rule"
    SILENT = "silent"
    ELECTRICAL = "electrical"
    IMPOSSIBLE = "impossible-value"
    ABOVE_LIMIT = "above-usable-limit"
    LOST_WATER = "lost-water"
    AIR_ENTRY = "air-entry"
    AIR_LEAK = "air-leak"
    CRACKED_CUP = "cracked-cup"
    SLOW_RESPONSE = "slow-response"
    POOR_CONTACT = "poor-contact"
    LEVEL_SHIFT = "level-shift"
    ZERO_DRIFT = "zero-drift"
    STUCK_VALUE = "stuck-value"
    NOISY_SUPPLY = "noisy-supply"
    DROP_OUTS = "drop-outs"
    SILENT_SOURCE = "silent-source"
    FROZEN = "frozen"
    FROST_RISK = "frost-risk"
    SWAPPED = "swapped"
    BLOCKED_VENT = "blocked-vent"
    BYTE_ORDER = "byte-order"
    WRONG_UNIT = "wrong-unit"
    WRONG_CLOCK = "wrong-clock"
    SOURCE_DOWN = "source-down"
    SINK_DOWN = "sink-down"
    NOTIFIER_DOWN = "notifier-down"
    DISK_FILLING = "disk-filling"
    DISK_FULL = "disk-full"
    CLOCK_UNTRUSTED = "clock-untrusted"
    ALARM_FLOOD = "alarm-flood"

    __hash__ = str.__hash__
    """As words hash; the one of enumerations is slow, and these are looked up with each reading."""


IRRIGATION_KINDS = (AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN)
DAEMON_KINDS = (
    AlarmKind.SOURCE_DOWN, AlarmKind.SINK_DOWN, AlarmKind.NOTIFIER_DOWN, AlarmKind.DISK_FILLING, AlarmKind.DISK_FULL,
    AlarmKind.CLOCK_UNTRUSTED, AlarmKind.ALARM_FLOOD,
)  # fmt: skip
"""About the daemon itself and what it is connected to; they say nothing about the ground or a tensiometer."""

_MEDIUM = (
    AlarmKind.IRRIGATE_PLAN, AlarmKind.SILENT, AlarmKind.ELECTRICAL, AlarmKind.IMPOSSIBLE, AlarmKind.LOST_WATER,
    AlarmKind.AIR_ENTRY, AlarmKind.CRACKED_CUP, AlarmKind.SILENT_SOURCE, AlarmKind.FROST_RISK, AlarmKind.SWAPPED,
    AlarmKind.BYTE_ORDER, AlarmKind.WRONG_UNIT, AlarmKind.SOURCE_DOWN, AlarmKind.NOTIFIER_DOWN,
    AlarmKind.DISK_FILLING, AlarmKind.CLOCK_UNTRUSTED,
)  # fmt: skip
_HIGH = (AlarmKind.IRRIGATE_NOW, AlarmKind.DISK_FULL)

PRIORITIES: Mapping[AlarmKind, Priority] = MappingProxyType(
    {
        **dict.fromkeys(AlarmKind, Priority.LOW),
        **dict.fromkeys(_MEDIUM, Priority.MEDIUM),
        **dict.fromkeys(_HIGH, Priority.HIGH),
    }
)
"""Unless the configuration says otherwise."""

_MINUTE_S, _HOUR_S = 60.0, 3600.0
ON_S: Mapping[AlarmKind, float] = MappingProxyType(
    {
        AlarmKind.DRYING_FAST: _HOUR_S,
        AlarmKind.SOURCE_DOWN: 10 * _MINUTE_S,
        AlarmKind.SINK_DOWN: 30 * _MINUTE_S,
        AlarmKind.NOTIFIER_DOWN: 30 * _MINUTE_S,
        AlarmKind.CLOCK_UNTRUSTED: 15 * _MINUTE_S,
    }
)
"""On-delays unless the configuration says otherwise; 0 for all others that have one.

A line that is pulled out for a moment, a server that starts anew and a clock that waits for the network are no alarms.
"""
DELAYED = frozenset(
    {*ON_S, AlarmKind.WET_TOO_LONG, AlarmKind.DISK_FILLING, AlarmKind.ELECTRICAL, AlarmKind.IMPOSSIBLE}
    | {AlarmKind.ABOVE_LIMIT}
)
"""Kinds whose delays stand in ``[alarms.KIND]``; all others have theirs in a zone, a rule or the diagnosis."""


@dataclass(frozen=True, slots=True)
class KindSettings:
    """What people may change about all alarms of one kind.

    Args:
        priority: how urgent they are.
        on_s, off_s: on-delay and off-delay, where the kind has them.
        repeat_s: an alarm that stays is told again after so long; 0: it is not; ``None``: as is usual for the kind.
        out_of_service: why alarms of this kind are not told at all; empty: they are.
    """

    priority: Priority
    on_s: float = 0.0
    off_s: float = 0.0
    repeat_s: float | None = None
    out_of_service: str = ""


USUAL: Mapping[AlarmKind, KindSettings] = MappingProxyType(
    {kind: KindSettings(PRIORITIES[kind], on_s=ON_S.get(kind, 0.0)) for kind in AlarmKind}
)
"""The settings of each kind unless the configuration says otherwise."""
