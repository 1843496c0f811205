"""What the diagnosis knows of one tensiometer, of one source, and of the site."""

from dataclasses import dataclass, field

from parchd.contract import JsonValue
from parchd.diagnosis.dips import Dips
from parchd.diagnosis.findings import FindingKey
from parchd.diagnosis.hours import Hour, Hours
from parchd.diagnosis.open_findings import OpenFindings
from parchd.diagnosis.opening import NO_CARRY, Carry, OpenHour
from parchd.diagnosis.setup import Instrument

AIR = "air"
"""Stands for the barometer where hours are kept by channel."""
KEPT_FALLS = 40
KEPT_ARRIVALS = 48


@dataclass(slots=True)
class Fall:
    """Tension went down more than the day before at the same hour explains.

    Args:
        begin: hour of the last reading before it.
        from_kpa: tension then.
        low_kpa, low_hour: the lowest since, and when.
        steepest_kpa: most that it fell within one hour.
        half_hour: hour by which half of the present size was passed.
        over: it is complete.
        explained: by water or a service: ``True``; certainly by neither: ``False``; not decided: ``None``.
        why: what explained it, in a word (``neighbours``, ``behaviour``, ``time``, ``service``).
    """

    begin: int
    from_kpa: float
    low_kpa: float
    low_hour: int
    steepest_kpa: float = 0.0
    half_hour: int = 0
    over: bool = False
    explained: bool | None = None
    why: str = ""

    @property
    def size_kpa(self) -> float:
        return self.from_kpa - self.low_kpa


@dataclass(slots=True, eq=False)
class Standing:
    """One tensiometer.

    Args:
        instrument: which.
        hours: summed up.
        open: hours that are not closed yet, by number.
        carry: what the newest closed hour left.
        newest_us: time of its newest reading.
        since: no evidence before this hour counts (its last service).
        falls: the last falls, the newest last.
        dips: the last samples that stood out.
        notes: small memory of detectors, by ``detector.word``; numbers or words; wiped by a service.
        ceiling_kpa: tension it must be taken to have until a fall is explained; NaN: what it reads.
        ceiling_hour: since when.
        calibration, head_kpa: of its readings; with others it is learnt anew. ``None``: not known yet.
    """

    instrument: Instrument
    hours: Hours = field(default_factory=Hours)
    open: dict[int, OpenHour] = field(default_factory=dict)
    carry: Carry = NO_CARRY
    newest_us: int = 0
    since: int = 0
    falls: list[Fall] = field(default_factory=list)
    dips: Dips = field(default_factory=Dips)
    notes: dict[str, JsonValue] = field(default_factory=dict)
    ceiling_kpa: float = float("nan")
    ceiling_hour: int = 0
    calibration: str | None = None
    head_kpa: float | None = None


@dataclass(frozen=True, slots=True)
class Neighbours:
    """Whose readings tell something about one tensiometer; its own is never among them.

    Args:
        level: same zone, another station, about the same depth.
        station: same station, other depths, the nearest first.
        zone: same zone.
        source: same source.
    """

    level: tuple[Standing, ...] = ()
    station: tuple[Standing, ...] = ()
    zone: tuple[Standing, ...] = ()
    source: tuple[Standing, ...] = ()


@dataclass(slots=True)
class Arrivals:
    """What a source delivered within one hour of the daemon's clock.

    Args:
        hour: which.
        count: samples.
        least_lag_s, most_lag_s: from measurement to arrival; negative: the device is ahead.
        batches: turns of arrival (different times of arrival).
    """

    hour: int
    count: int = 0
    least_lag_s: float = float("inf")
    most_lag_s: float = float("-inf")
    batches: int = 0
    newest_us: int = 0


@dataclass(slots=True)
class SourceStanding:
    """One source of several channels.

    Args:
        closed: newest hour that is closed.
        notes: small memory of detectors.
        arrivals: what arrived in the last hours by the daemon's own clock, the newest last.
    """

    name: str
    closed: int = 0
    notes: dict[str, JsonValue] = field(default_factory=dict)
    arrivals: list[Arrivals] = field(default_factory=list)


@dataclass(slots=True)
class DiagnosisState:
    """All that the diagnosis knows; what must outlast a restart is in ``unsaved_*`` until it is written.

    Args:
        standings: by channel.
        sources: by name.
        air: the barometer's hours (``mean_kpa`` holds the pressure of the air).
        auxiliaries_us: time of the newest sample of each thermometer and barometer.
        findings: open ones.
        dismissed: findings a person has dismissed: the same evidence does not bring them back.
        unsaved_hours: closed hours not written yet: number, channel, hour.
        changed: channels and sources (``source/NAME``) whose small memory has changed.
        neighbours: whose readings tell something about each tensiometer, by channel; made anew at the begin.
    """

    standings: dict[str, Standing] = field(default_factory=dict)
    sources: dict[str, SourceStanding] = field(default_factory=dict)
    air: Hours = field(default_factory=Hours)
    air_open: dict[int, tuple[float, int]] = field(default_factory=dict)
    auxiliaries_us: dict[str, int] = field(default_factory=dict)
    findings: OpenFindings = field(default_factory=OpenFindings)
    dismissed: dict[FindingKey, int] = field(default_factory=dict)
    unsaved_hours: list[tuple[int, str, Hour]] = field(default_factory=list)
    changed: set[str] = field(default_factory=set)
    neighbours: dict[str, Neighbours] = field(default_factory=dict)
