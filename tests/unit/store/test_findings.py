"""Findings and events as they are kept."""

from collections.abc import Iterator
from dataclasses import replace
from math import isnan, nan

import pytest

from parchd.diagnosis.findings import End, Event, Fact, Finding, FindingKey
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.store import findings
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import HOUR_US, START_US

KEY = FindingKey(FindingKind.AIR_LEAK, "tensiometer/north-20")
FACTS = (Fact("fell by", 4.5, "kPa"), Fact("times", 3), Fact("like", "others"))
FOUND = Finding(KEY, START_US, START_US + HOUR_US, 0.8, FACTS, others=("north-40",))


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def hours(number: float) -> int:
    return START_US + round(number * HOUR_US)


def ended(hour: float, end: End = End.RECOVERED) -> Finding:
    return replace(FOUND, ended_us=hours(hour), end=end)


def test_a_finding_is_read_as_it_was_written(bench: Bench) -> None:
    findings.begin(bench.connection, FOUND, "thread", hours(2))
    (record,) = findings.open_findings(bench.connection).values()
    assert (record.finding, record.thread, record.recorded_us, record.closed_us) == (FOUND, "thread", hours(2), None)


def test_a_number_that_is_none_stays_so(bench: Bench) -> None:
    findings.begin(bench.connection, replace(FOUND, facts=(Fact("slope", nan, "kPa/h"),)), "", hours(2))
    (record,) = findings.open_findings(bench.connection).values()
    value = record.finding.facts[0].value
    assert isinstance(value, float)
    assert isnan(value)


def test_an_end_is_kept_with_who_said_so_and_gives_the_thread_back(bench: Bench) -> None:
    findings.begin(bench.connection, FOUND, "thread", hours(2))
    assert findings.end(bench.connection, ended(0, End.DISMISSED), hours(5), "Anne", "moved") == "thread"
    assert findings.open_findings(bench.connection) == {}
    record = findings.last_ended(bench.connection, KEY)
    assert record is not None
    assert (record.finding, record.by, record.because) == (ended(0, End.DISMISSED), "Anne", "moved")
    assert findings.dismissed(bench.connection) == {KEY: hours(5)}


def test_what_is_not_open_cannot_end(bench: Bench) -> None:
    assert findings.end(bench.connection, ended(3), hours(5)) == ""
    assert findings.last_ended(bench.connection, KEY) is None


def test_one_that_comes_again_is_another_one(bench: Bench) -> None:
    for start in (0, 10):
        again = replace(FOUND, start_us=hours(start), found_us=hours(start + 1))
        findings.begin(bench.connection, again, "", hours(start + 1))
        findings.end(bench.connection, replace(again, ended_us=hours(start + 5), end=End.SERVICED), hours(start + 5))
    assert list(findings.spans(bench.connection, KEY.subject)) == [
        (FindingKind.AIR_LEAK, hours(0), hours(5)), (FindingKind.AIR_LEAK, hours(10), hours(15)),
    ]  # fmt: skip
    assert len(findings.past_findings(bench.connection, hours(-9), hours(99))) == 2


@pytest.mark.parametrize(
    ("start", "end", "there"), [(-9, 0, False), (-9, 1, True), (2, 3, True), (4, 9, True), (6, 9, False)]
)
def test_a_past_finding_is_told_in_every_span_it_touches(bench: Bench, start: int, end: int, there: bool) -> None:
    findings.begin(bench.connection, FOUND, "", hours(1))
    findings.end(bench.connection, ended(5), hours(6))
    assert bool(findings.past_findings(bench.connection, hours(start), hours(end))) is there


def test_one_that_was_dismissed_is_told_where_it_was_found(bench: Bench) -> None:
    late = replace(FOUND, found_us=hours(30))
    findings.begin(bench.connection, late, "", hours(30))
    findings.end(bench.connection, replace(late, ended_us=late.start_us, end=End.DISMISSED), hours(40))
    assert findings.past_findings(bench.connection, hours(20), hours(50))
    assert list(findings.spans(bench.connection, KEY.subject)) == []


def test_an_event_grows_and_is_told_once(bench: Bench) -> None:
    first = Event(EventKind.WETTING, "station/north/post 1", hours(1), None)
    grown = replace(first, end_us=hours(4), facts=(Fact("depths", 2),), details={"reached": [0.2, 0.4], "size": None})
    other = replace(first, start_us=hours(9))
    for event in (first, other, grown):
        findings.note_event(bench.connection, event, hours(5))
    assert findings.events(bench.connection, hours(0), hours(9)) == [grown]
    assert findings.events(bench.connection, hours(0), hours(10)) == [grown, other]
