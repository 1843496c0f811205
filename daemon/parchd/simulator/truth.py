"""What really happened: faults, water, services."""

import math
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
        effect_kpa: error that it makes when it shows most (98 of 100 samples are nearer the truth); NaN: no matter of
            kPa. One of a kPa or less can hardly be told from the weather.
    """

    kind: FindingKind
    subject: str
    start_us: int
    end_us: int | None
    size: float
    others: tuple[str, ...] = ()
    form: str = ""
    effect_kpa: float = math.nan


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
