"""A year of an invented farm with 40 tensiometers on which everything goes wrong, before it is lived through."""

from dataclasses import dataclass
from datetime import UTC, datetime

from parchd.clock import US_PER_S, from_datetime
from parchd.diagnosis.kinds import FindingKind as K
from parchd.simulator.plan import FaultPlan, Plan

DAY_US = 86_400 * US_PER_S
START_US = from_datetime(datetime(2026, 1, 1, tzinfo=UTC))
GATEWAYS_DOWN = (185, ("gateway-a", "gateway-b"))
"""Day of the year on which two gateways fail together, for a day."""


@dataclass(frozen=True, slots=True)
class Mishap:
    """One fault of the year.

    Args:
        day: of the year, when it begins.
        days: until somebody mends it.
    """

    kind: K
    on: str
    day: float
    days: float
    size: float = 0.7
    form: str = ""

    @property
    def plan(self) -> FaultPlan:
        target = f"source/{self.on}" if self.on.startswith("gateway") else f"tensiometer/{self.on}"
        onset_us = START_US + round(self.day * DAY_US)
        return FaultPlan(self.kind, target, onset_us, self.size, self.days * 86_400.0, self.form)


MISHAPS = (
    Mishap(K.FROST_RISK, "gateway-d", 12, 6),
    Mishap(K.FROZEN, "gateway-e", 24, 5),
    Mishap(K.BLOCKED_VENT, "creek-4-60", 60, 60),
    Mishap(K.ZERO_DRIFT, "nursery-4-60", 100, 80, 1.0),
    Mishap(K.STUCK_VALUE, "north-4-60", 110, 6),
    Mishap(K.CRACKED_CUP, "nursery-2-30", 122, 8),
    Mishap(K.AIR_LEAK, "north-2-30", 130, 40),
    Mishap(K.OPEN_CIRCUIT, "nursery-1-30", 135.3, 3),
    Mishap(K.POOR_CONTACT, "pond-1-30", 140, 40),
    Mishap(K.SILENT_CHANNEL, "hill-2-60", 145.4, 3),
    Mishap(K.LOST_WATER, "hill-1-30", 150.6, 12, form="collapse"),
    Mishap(K.SWAPPED, "hill-4-30", 156, 30),
    Mishap(K.LEVEL_SHIFT, "creek-3-60", 160.2, 20),
    Mishap(K.SLOW_RESPONSE, "hill-3-30", 170, 50),
    Mishap(K.SATURATED, "pond-2-60", 180.1, 4),
    *(Mishap(K.SILENT_SOURCE, gateway, GATEWAYS_DOWN[0] + 0.4, 1) for gateway in GATEWAYS_DOWN[1]),
    Mishap(K.AIR_ENTRY, "pond-3-30", 190, 20),
    Mishap(K.LOST_WATER, "creek-2-30", 200, 12, form="slow"),
    Mishap(K.SHORT_CIRCUIT, "nursery-3-60", 210.7, 2),
    Mishap(K.BYTE_ORDER, "north-3-60", 220.2, 3),
    Mishap(K.WRONG_UNIT, "creek-1-60", 230.3, 4),
    Mishap(K.NOISY_SUPPLY, "gateway-c", 240, 8),
    Mishap(K.DROP_OUTS, "gateway-d", 252, 15),
    Mishap(K.WRONG_CLOCK, "gateway-e", 270, 3),
)
"""Each kind of fault once or more, at sizes a person would meet; invented."""


def year_plan(first_day: int = 0, days: int = 365) -> Plan:
    """Five zones with four stations of two depths each; three quarters of the year dry enough to irrigate.

    Args:
        first_day: of the year. Faults that do not lie within the days are left out.
    """
    return Plan(
        seed=20260, days=days, start_us=START_US + first_day * DAY_US, interval_s=1800.0,
        soils=("loam", "silt loam", "sandy clay loam", "clay loam", "silty clay loam"), stations=4,
        depths_m=(0.3, 0.6), crop="apples", climate="dry summer", thermometer=True, barometer=True, services=3,
        wirings=(
            "ratiometric 5 V, 12 bits", "pressure in kPa", "ratiometric 5 V in volts", "loop 4 to 20 mA",
            "ratiometric 5 V, 16 bits",
        ),
        faults=tuple(one.plan for one in MISHAPS if first_day < one.day and one.day + one.days < first_day + days),
    )  # fmt: skip
