"""What people care for: each kind of alarm belongs to one role."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from parchd.alarms.kinds import DAEMON_KINDS, AlarmKind


class Role(StrEnum):
    """What somebody looks after; the words of the configuration."""

    IRRIGATION = "irrigation"
    """The ground: when it needs water, and when it has too much."""
    SENSORS = "sensors"
    """Tensiometers, boards and gateways in the field."""
    SYSTEM = "system"
    """The daemon, its disk and clock, brokers and servers."""


_IRRIGATION = (
    AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN, AlarmKind.DRYING_FAST, AlarmKind.WET_TOO_LONG, AlarmKind.OWN_RULE,
)  # fmt: skip

ROLES: Mapping[AlarmKind, Role] = MappingProxyType(
    {
        kind: Role.IRRIGATION if kind in _IRRIGATION else Role.SYSTEM if kind in DAEMON_KINDS else Role.SENSORS
        for kind in AlarmKind
    }
)
"""The role that looks after alarms of each kind."""
