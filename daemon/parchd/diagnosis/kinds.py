"""What can be wrong with a tensiometer, and what follows from it."""

from dataclasses import dataclass
from enum import StrEnum

from parchd.contract import Flag


class FindingKind(StrEnum):
    """A cause that the diagnosis can name. The words are stored: never change one."""

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
    OPEN_CIRCUIT = "open-circuit"
    SHORT_CIRCUIT = "short-circuit"
    SATURATED = "converter-at-its-end"
    SILENT_CHANNEL = "silent-channel"
    SILENT_SOURCE = "silent-source"
    FROZEN = "frozen"
    FROST_RISK = "frost-risk"
    SWAPPED = "swapped"
    BLOCKED_VENT = "blocked-vent"
    BYTE_ORDER = "byte-order"
    WRONG_UNIT = "wrong-unit"
    WRONG_CLOCK = "wrong-clock"


class EventKind(StrEnum):
    """What happens to tensiometers without being a fault. The words are stored: never change one."""

    WETTING = "wetting"
    SERVICE = "service"
    SATURATION = "saturation"
    POSITIVE_PRESSURE = "positive-pressure"


class Trust(StrEnum):
    """What brings trust back."""

    SERVICE = "service"
    """Only a service that somebody wrote down: the fault hides itself."""
    EVIDENCE = "evidence"
    """Readings that show that all is well again, or a service."""


@dataclass(frozen=True, slots=True)
class Consequence:
    """What a finding does.

    Args:
        flag: of readings from where the evidence begins: ``FAIL`` no measurement of the soil, ``SUSPECT`` not to be
            acted on, ``PASS`` the finding is told and the readings keep their flags.
        trust: what ends it.
    """

    flag: Flag
    trust: Trust = Trust.EVIDENCE


CONSEQUENCES = {
    FindingKind.LOST_WATER: Consequence(Flag.FAIL, Trust.SERVICE),
    FindingKind.AIR_ENTRY: Consequence(Flag.FAIL, Trust.SERVICE),
    FindingKind.AIR_LEAK: Consequence(Flag.SUSPECT, Trust.SERVICE),
    FindingKind.CRACKED_CUP: Consequence(Flag.FAIL, Trust.SERVICE),
    FindingKind.SLOW_RESPONSE: Consequence(Flag.SUSPECT),
    FindingKind.POOR_CONTACT: Consequence(Flag.SUSPECT),
    FindingKind.LEVEL_SHIFT: Consequence(Flag.SUSPECT),
    FindingKind.ZERO_DRIFT: Consequence(Flag.SUSPECT),
    FindingKind.STUCK_VALUE: Consequence(Flag.FAIL),
    FindingKind.NOISY_SUPPLY: Consequence(Flag.PASS),
    FindingKind.DROP_OUTS: Consequence(Flag.PASS),
    FindingKind.OPEN_CIRCUIT: Consequence(Flag.PASS),
    FindingKind.SHORT_CIRCUIT: Consequence(Flag.PASS),
    FindingKind.SATURATED: Consequence(Flag.PASS),
    FindingKind.SILENT_CHANNEL: Consequence(Flag.PASS),
    FindingKind.SILENT_SOURCE: Consequence(Flag.PASS),
    FindingKind.FROZEN: Consequence(Flag.SUSPECT),
    FindingKind.FROST_RISK: Consequence(Flag.PASS),
    FindingKind.SWAPPED: Consequence(Flag.SUSPECT),
    FindingKind.BLOCKED_VENT: Consequence(Flag.PASS),
    FindingKind.BYTE_ORDER: Consequence(Flag.FAIL),
    FindingKind.WRONG_UNIT: Consequence(Flag.FAIL),
    FindingKind.WRONG_CLOCK: Consequence(Flag.PASS),
}
