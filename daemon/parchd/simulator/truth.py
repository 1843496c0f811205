"""What really happened: faults, water, services."""

from dataclasses import dataclass

from parchd.diagnosis.kinds import FindingKind


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a season.

    Args:
        kind: what.
        subject: ``tensiometer/NAME`` or ``source/NAME``.
        start_us: when it began.
        end_us: when it was over; ``None``: not before the season was.
        size: how strong, in the number that fits its kind (kPa, hours, a factor).
        others: further tensiometers that it touches.
        form: ``collapse`` or ``slow`` of a lost water column; empty for others.
    """

    kind: FindingKind
    subject: str
    start_us: int
    end_us: int | None
    size: float
    others: tuple[str, ...] = ()
    form: str = ""


@dataclass(frozen=True, slots=True)
class Water:
    """Water that a zone got; ``kind`` is ``irrigation`` or ``rain``."""

    kind: str
    zone: str
    start_us: int
    end_us: int
    mm: float


@dataclass(frozen=True, slots=True)
class Service:
    """Somebody topped up the tubes of a source."""

    source: str
    begin_us: int
    end_us: int
    tensiometers: tuple[str, ...]
