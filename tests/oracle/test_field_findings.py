"""A real field record with faults in it: what the diagnosis must see, and where it must be quiet.

Flood irrigation of alfalfa, 15-minute means of spring 2015, from the public repository brown-ag/alfalfa_gb (commit
2d366f139ee5a188f8a53335dae81e1d399e21fe, GPL-2). It is read where it lies and is no part of this project: set
PARCHD_SHARED to the folder that holds field2015. What is wrong with it was found by inspection and is written in the
README beside it; the authors' line is head in cm = (mV - 370) / 1.742. That transducers stand as high above their cups
as those are deep is an assumption.
"""

import csv
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from parchd.clock import from_datetime, to_datetime
from parchd.contract import Cause, Flag, Place, Reading, Sample, Unit
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.findings import Event, Finding
from parchd.diagnosis.kinds import CONSEQUENCES, EventKind, FindingKind
from parchd.diagnosis.setup import DiagnosisSetup, Instrument
from parchd.diagnosis.standing import DiagnosisState
from parchd.physics.head import head_kpa

DEEP = (3, 4, 7, 8)
PLOTS = {1: (1, 2, 3, 4), 2: (5, 6, 7, 8), 3: (9, 10)}
POSTS = {1: "a", 3: "a", 5: "a", 7: "a", 9: "a", 2: "b", 4: "b", 6: "b", 8: "b", 10: "b"}
EVENTS = {1: range(12, 18), 2: range(5, 11), 3: range(12, 16)}
KPA_PER_CM = 0.0980665
USABLE_KPA = 85.0

Row = dict[str, str]


def folder() -> Path:
    beside = Path(__file__).resolve().parents[2].parent / "shared"
    return Path(os.environ.get("PARCHD_SHARED", beside)) / "field2015"


def rows_of(name: str) -> list[Row]:
    path = folder() / name
    if not path.is_file():
        # The record is under another licence and stays outside the repository.
        pytest.skip(f"the field record is not here: set PARCHD_SHARED to the folder with field2015/{name}")
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


def time_of(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def depth_m(channel: int) -> float:
    return 1.5 if channel in DEEP else 0.6


def head_of(channel: int) -> float:
    return float(head_kpa(depth_m(channel), 20.0))


def instruments() -> Iterator[Instrument]:
    for plot, channels in PLOTS.items():
        for channel in channels:
            place = Place("trial", f"plot {plot}", POSTS[channel], f"ch{channel}", depth_m(channel))
            head = head_of(channel)
            yield Instrument(place, f"logger/ch{channel}", 900.0, head, USABLE_KPA - head)


def readings(rows: list[Row]) -> Iterator[Reading]:
    for row in rows:
        time_us = from_datetime(time_of(row["time_local"]))
        for channel in range(1, 11):
            mv = float(row[f"ch{channel:02d}_mV"])
            gauge_kpa = -(mv - 370.0) / 1.742 * KPA_PER_CM
            sample = Sample(f"ch{channel}", time_us, mv, Unit.MV)
            yield Reading(
                sample, f"logger/ch{channel}", time_us + 1, gauge_kpa, -gauge_kpa - head_of(channel), Flag.PASS,
                Cause.NONE, late=False,
            )  # fmt: skip


class Seen:
    """What the diagnosis said of the record."""

    def __init__(self, findings: list[Finding], events: list[Event]) -> None:
        self.findings = findings
        self.events = events

    def of(self, channel: int) -> list[Finding]:
        return [finding for finding in self.findings if finding.key.name == f"ch{channel}"]

    def wettings(self, station: str) -> list[Event]:
        wettings = [e for e in self.events if e.kind is EventKind.WETTING and e.subject == f"station/{station}"]
        return list({event.start_us: event for event in wettings}.values())


@pytest.fixture(scope="module")
def seen() -> Seen:
    rows = rows_of("tensiometer_mV.csv")
    diagnosis = Diagnosis(DiagnosisSetup(tuple(instruments())))
    state = diagnosis.begin(DiagnosisState())
    outcome = diagnosis.take(state, readings(rows))
    return Seen(list(outcome.findings), list(outcome.events))


@pytest.mark.parametrize("channel", [1, 5, 9, 10])
def test_nothing_is_found_wrong_with_the_sound_channels(seen: Seen, channel: int) -> None:
    assert seen.of(channel) == []


def test_the_weak_tensiometer_is_doubted_within_a_day_of_its_loss_and_condemned_to_the_end(seen: Seen) -> None:
    first = next(f for f in seen.of(6) if to_datetime(f.found_us) > time_of("2015-03-29 00:00"))
    lost = next(f for f in seen.of(6) if f.is_open and f.key.kind is FindingKind.LOST_WATER)

    assert CONSEQUENCES[first.key.kind].flag is not Flag.PASS
    assert to_datetime(first.found_us) < time_of("2015-03-30 18:00")
    assert abs(to_datetime(lost.start_us) - time_of("2015-03-29 18:00")) < timedelta(hours=12)
    assert to_datetime(lost.found_us) < time_of("2015-04-12 00:00")
    assert not any(f.key == lost.key and f.end is not None for f in seen.of(6))


def test_the_shift_of_level_is_found_within_a_day_and_its_return_at_the_service(seen: Seen) -> None:
    first = next(f for f in seen.of(8) if f.is_open)
    ends = [f for f in seen.of(8) if f.ended_us is not None and f.key.kind is FindingKind.LEVEL_SHIFT]

    assert first.key.kind is FindingKind.LEVEL_SHIFT
    assert time_of("2015-03-11 00:00") <= to_datetime(first.start_us) <= time_of("2015-03-12 12:00")
    assert to_datetime(first.found_us) <= time_of("2015-03-13 00:00")
    assert [to_datetime(f.ended_us or 0).date().isoformat() for f in ends] == ["2015-03-31"]


def test_the_service_is_recognised_and_is_the_only_one(seen: Seen) -> None:
    services = {event.start_us: event for event in seen.events if event.kind is EventKind.SERVICE}

    (service,) = services.values()
    assert abs(to_datetime(service.start_us) - time_of("2015-03-31 08:45")) < timedelta(hours=2)


@pytest.mark.parametrize(("plot", "station"), [(1, "plot 1/a"), (2, "plot 2/a"), (3, "plot 3/a")])
def test_floods_are_wettings_of_the_stations_they_reached(seen: Seen, plot: int, station: str) -> None:
    """The first drop came 0.2 to 7 h after the start, as the README beside the record says."""
    begins = [to_datetime(event.start_us) for event in seen.wettings(station)]
    floods = [time_of(row["start_local"]) for row in rows_of("flood_events.csv") if int(row["event"]) in EVENTS[plot]]

    missed = [f for f in floods if not any(timedelta(hours=-2) <= b - f <= timedelta(hours=7.5) for b in begins)]
    assert missed == []


def test_no_supply_wire_or_clock_is_blamed(seen: Seen) -> None:
    assert {f.key.kind for f in seen.findings if f.key.subject.startswith("source/")} == set()
