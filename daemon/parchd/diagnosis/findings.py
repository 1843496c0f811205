"""What the diagnosis says: findings with their evidence, and events."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from parchd.contract import JsonValue
from parchd.diagnosis.kinds import EventKind, FindingKind


class FindingKey(NamedTuple):
    """One thing that can be wrong with one subject (``tensiometer/NAME``, ``source/NAME``)."""

    kind: FindingKind
    subject: str

    @property
    def name(self) -> str:
        """The name of the subject."""
        return self.subject.partition("/")[2]


class Fact(NamedTuple):
    """One piece of evidence.

    Args:
        what: in words, e.g. ``fell by``.
        value: a number in ``unit``; times are microseconds UTC with the unit ``time``; text has no unit.
        unit: ``kPa``, ``kPa/h``, ``kPa/day``, ``h``, ``days``, ``degC``, ``time``, ``%``, a bare count has none.
    """

    what: str
    value: float | int | str
    unit: str = ""


class End(StrEnum):
    """Why a finding ended. The words are stored: never change one."""

    RECOVERED = "recovered"
    SERVICED = "serviced"
    DISMISSED = "dismissed"
    REFINED = "refined"
    """Another finding explains the same evidence better."""
    REPEATED = "repeated"
    """It happened again after somebody had put it right and not written that down: a finding of the same kind goes on
    where this one ends, and nothing between them is believed."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something is wrong with a tensiometer, or with a source of several.

    Args:
        key: what is wrong, and with whom.
        start_us: where the evidence begins; readings are doubted from here on.
        found_us: time of the readings that made the case.
        confidence: chance that it is right, 0 to 1, as the detector judges it.
        facts: evidence.
        ended_us: time of measurement from which the subject is believed again; ``None``: it holds.
        end: why it ended.
        others: other tensiometers it concerns (the other one of two swapped, those of a source).
    """

    key: FindingKey
    start_us: int
    found_us: int
    confidence: float
    facts: tuple[Fact, ...] = ()
    ended_us: int | None = None
    end: End | None = None
    others: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        return self.ended_us is None


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a station or a source without being a fault.

    Args:
        kind: what.
        subject: ``station/ZONE/STATION``, ``tensiometer/NAME`` or ``source/NAME``.
        start_us, end_us: when; ``None``: it goes on.
        facts: numbers of it.
        details: the same for programs, JSON types (depths reached, times).
    """

    kind: EventKind
    subject: str
    start_us: int
    end_us: int | None
    facts: tuple[Fact, ...] = ()
    details: Mapping[str, JsonValue] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one step of the diagnosis brought, in order.

    Args:
        findings: new ones, and ones that ended; one that was refined ends before its successor begins.
        events: new events, and known ones that grew (same kind, subject and start).
    """

    findings: tuple[Finding, ...] = ()
    events: tuple[Event, ...] = ()


NOTHING = Outcome()
