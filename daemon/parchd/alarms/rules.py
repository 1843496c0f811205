"""What the alarms must know; the configuration is compiled into this."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time

from parchd.alarms.delays import AT_ONCE, Delays
from parchd.alarms.kinds import PRIORITIES, USUAL, AlarmKind, KindSettings
from parchd.alarms.polls import Poll, Way
from parchd.alarms.terms import Rule
from parchd.clock import US_PER_S
from parchd.contract import Priority

__all__ = [
    "CLOCK", "DISK", "FAULT_DELAYS", "PRIORITIES", "AlarmKind", "AlarmSetup", "DecisionWindow", "Delays", "DiskLimits",
    "FaultRule", "HealthRule", "IrrigationRule", "KindSettings", "Rule",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class DecisionWindow:
    """The part of the day whose readings decide on irrigation, in local standard time (no daylight saving).

    Early morning is when the daily swing of the instrument is smallest and soil and cup agree best
    (Haise and Kelley 1950, Soil Sci. 70). ``end`` before ``start`` spans midnight.
    """

    start: time
    end: time
    time_zone: str


FAULT_DELAYS = Delays(on_count=3, off_count=3)
"""Three in a row: one wild sample is no fault."""


@dataclass(frozen=True, slots=True)
class IrrigationRule:
    """When a zone, or one tensiometer, needs water.

    Args:
        subject: ``zone/NAME`` or ``tensiometer/NAME``.
        tensiometers: whose readings decide; the value judged is made of those that can be trusted.
        plan_kpa: tension at which to plan an irrigation; ``None``: no such alarm.
        now_kpa: tension at which to irrigate; ``None``: no such alarm.
        deadband_kpa: an alarm clears at its limit less this.
        delays: how long the condition must hold.
        window: readings that decide; ``None``: all.
        fresh_s: a tensiometer whose last deciding reading is older has no say in raising.
        min_trusted: so many tensiometers must have a say before the alarm is raised.
        way: how their votes make one tension.
        stations: where each stands, by tensiometer.
    """

    subject: str
    tensiometers: tuple[str, ...]
    plan_kpa: float | None
    now_kpa: float | None
    deadband_kpa: float
    delays: Delays
    window: DecisionWindow | None
    fresh_s: float = 26 * 3600.0
    min_trusted: int = 1
    way: Way = Poll.MEDIAN
    stations: Mapping[str, str] = field(default_factory=dict)
    limits: tuple[tuple[AlarmKind, float], ...] = field(init=False, repr=False)
    """The levels of the rule, the more urgent first."""

    def __post_init__(self) -> None:
        both = ((AlarmKind.IRRIGATE_NOW, self.now_kpa), (AlarmKind.IRRIGATE_PLAN, self.plan_kpa))
        limits = tuple((kind, limit_kpa) for kind, limit_kpa in both if limit_kpa is not None)
        object.__setattr__(self, "limits", limits)


@dataclass(frozen=True, slots=True)
class FaultRule:
    """When a tensiometer is reported as faulty: after so many readings, or after so many silent intervals.

    Args:
        delays: of faults that readings show.
        by_kind: those of kinds that have others.
    """

    tensiometer: str
    channel: str
    interval_s: float
    silent_intervals: float = 3.0
    delays: Delays = FAULT_DELAYS
    by_kind: Mapping[AlarmKind, Delays] = field(default_factory=dict)

    @property
    def patience_us(self) -> int:
        """So long it may say nothing."""
        return round(self.silent_intervals * self.interval_s * US_PER_S)


DISK, CLOCK = "daemon/disk", "daemon/clock"


@dataclass(frozen=True, slots=True)
class HealthRule:
    """That a source, sink or notifier, the disk or the clock is watched (``source/NAME``, ``daemon/disk``)."""

    kind: AlarmKind
    subject: str
    delays: Delays = AT_ONCE


@dataclass(frozen=True, slots=True)
class DiskLimits:
    """How much of the journal's disk must be free: a share of it, and never more than so many bytes."""

    share: float = 0.05
    bytes: int = 1_000_000_000

    def least_bytes(self, total_bytes: int) -> float:
        """The limit for a disk of this size.

        >>> DiskLimits().least_bytes(8_000_000_000), DiskLimits().least_bytes(1_000_000_000_000)
        (400000000.0, 1000000000)
        """
        return min(self.share * total_bytes, self.bytes)


@dataclass(frozen=True, slots=True)
class AlarmSetup:
    """All rules of a site.

    Args:
        rules: over readings and findings, one's own and ours.
        mornings: the part of the day whose readings tell how fast it dries, by tensiometer; of those that are asked.
        health: what is watched of the daemon's connections, its disk and its clock.
        disk: when its disk is filling.
        kinds: the settings of every kind.
    """

    irrigation: tuple[IrrigationRule, ...] = ()
    faults: tuple[FaultRule, ...] = ()
    rules: tuple[Rule, ...] = ()
    mornings: Mapping[str, DecisionWindow] = field(default_factory=dict)
    health: tuple[HealthRule, ...] = ()
    disk: DiskLimits = DiskLimits()
    kinds: Mapping[AlarmKind, KindSettings] = field(default_factory=lambda: USUAL)

    def priority(self, kind: AlarmKind, subject: str) -> Priority:
        """How urgent one alarm is: as its own rule says, or its kind."""
        if kind is AlarmKind.OWN_RULE:
            for rule in self.rules:
                if rule.key.subject == subject and rule.priority is not None:
                    return rule.priority
        return self.kinds[kind].priority
