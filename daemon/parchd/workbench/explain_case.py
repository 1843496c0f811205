"""Everything about one tensiometer over a span that is to be explained, and nothing read from anywhere."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from parchd.contract import Cause, Flag
from parchd.diagnosis.findings import End, Event, Finding
from parchd.diagnosis.hours import NAN
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.store.services import ServiceRecord


@dataclass(frozen=True, slots=True)
class Portrait:
    """The tensiometer and its place.

    Args:
        zone: as people call it.
        head_kpa: pressure of the water column that its readings are corrected for.
        limit_kpa: usable limit at the cup.
        limits: tensions at which its zone asks for water, each with its words (``irrigate now``).
    """

    site: str
    time_zone: str
    name: str
    zone: str
    station: str
    depth_m: float
    channel: str
    interval_s: float
    height_m: float
    head_kpa: float
    limit_kpa: float
    limits: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Bucket:
    """What was measured within a piece of the span; NaN: nothing."""

    low: float = NAN
    mean: float = NAN
    high: float = NAN


@dataclass(frozen=True, slots=True)
class Track:
    """A curve: one bucket after the other from the begin of the span.

    Args:
        label: short, stands at its end.
        interval_s: expected time between samples.
    """

    label: str
    interval_s: float
    buckets: tuple[Bucket, ...]


@dataclass(frozen=True, slots=True)
class Dismissal:
    """Who said that a finding is wrong, and why."""

    by: str
    reason: str
    at_us: int


@dataclass(frozen=True, slots=True)
class Told:
    """A finding with what people said of it."""

    finding: Finding
    dismissal: Dismissal | None = None

    @property
    def flag(self) -> Flag:
        """What it makes of readings."""
        return CONSEQUENCES[self.finding.key.kind].flag

    @property
    def is_dismissed(self) -> bool:
        return self.dismissal is not None or self.finding.end is End.DISMISSED


@dataclass(frozen=True, slots=True)
class Newest:
    """The last reading that came, whatever the span."""

    time_us: int
    tension_kpa: float | None
    flag: Flag
    cause: Cause


@dataclass(frozen=True, slots=True)
class Explained:
    """One tensiometer over a span.

    Args:
        start_us, end_us: the span, a whole number of buckets.
        bucket_us: their length.
        flags: number of its readings by flag.
        own: its tension.
        neighbours: tension of others worth comparing with, the nearest first.
        left_out: so many more stand in the zone.
        temperature: of its thermometer.
        findings: that hold within the span or now, in the order of their begin; those of its source too.
        events: likewise.
        services: that were written down and touch the span.
        settling: the service after which it is still settling now.
    """

    portrait: Portrait
    start_us: int
    end_us: int
    bucket_us: int
    now_us: int
    own: Track
    newest: Newest | None = None
    flags: Mapping[Flag, int] = field(default_factory=dict)
    neighbours: tuple[Track, ...] = ()
    left_out: int = 0
    temperature: Track | None = None
    findings: tuple[Told, ...] = ()
    events: tuple[Event, ...] = ()
    services: tuple[ServiceRecord, ...] = ()
    settling: ServiceRecord | None = None

    def findings_within(self) -> list[Told]:
        """Those that hold within the span, but for ones that another explains better."""
        within = (told for told in self.findings if told.finding.start_us < self.end_us)
        return [told for told in within if told.finding.end is not End.REFINED]

    def open_findings(self) -> list[Told]:
        """Those that hold now, the gravest first."""
        found = [told for told in self.findings if told.finding.is_open and not told.is_dismissed]
        return sorted(found, key=lambda told: (-_WEIGHT[told.flag], told.finding.start_us))


_WEIGHT = {Flag.FAIL: 2, Flag.SUSPECT: 1, Flag.PASS: 0}


def middle_us(case: Explained, number: int) -> int:
    """The middle of a bucket."""
    return case.start_us + case.bucket_us * number + case.bucket_us // 2


def pieces(track: Track, bucket_us: int) -> Iterator[Sequence[int]]:
    """Numbers of buckets that belong together: where samples are missing, a new piece begins.

    >>> one = Bucket(1.0, 1.0, 1.0)
    >>> [list(piece) for piece in pieces(Track("", 60.0, (one, one, Bucket(), Bucket(), one)), 60_000_000)]
    [[0, 1], [4]]
    """
    longest = max(2.5 * track.interval_s * 1e6 / bucket_us, 1.5)
    piece: list[int] = []
    for number, bucket in enumerate(track.buckets):
        if bucket.mean != bucket.mean:
            continue
        if piece and number - piece[-1] > longest:
            yield piece
            piece = []
        piece.append(number)
    if piece:
        yield piece
