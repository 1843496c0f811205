"""The pictures that go with messages."""

import json
from collections.abc import Sequence
from dataclasses import asdict

import pytest

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.polls import Poll
from parchd.alarms.rules import AlarmKind, AlarmSetup, Delays, IrrigationRule
from parchd.app.charts import Charts
from parchd.app.diagnosing import Diagnosing
from parchd.contract import Chart, Limit, Place
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.store.journal import Journal
from parchd.testing.bench import MEMORY, engine_on
from parchd.testing.site import START_US, line, names_of, small_site
from parchd.words import Voice

NAMES = names_of(small_site()[0])
VOICE = Voice(time_zone="Europe/Berlin")
NORTH = ("north-20", "north-40", "north-60")
RULE = IrrigationRule("zone/north", NORTH, 40.0, 60.0, 5.0, Delays(), None)
NOW = hour_of(START_US)
KPA = {"north-20": 50.0, "north-40": 40.0, "north-60": 20.0}


def hourly(name: str, begin: int, end: int) -> Sequence[float | None]:
    """Each tensiometer rises by 0.1 kPa an hour up to its value; north-60 is silent on the second last day."""
    top = KPA.get(name)
    silent = range(NOW - 47, NOW - 23) if name == "north-60" else range(0)
    return [None if top is None or hour in silent else top - 0.1 * (NOW - hour) for hour in range(begin, end)]


def charts(rule: IrrigationRule = RULE, believed: Sequence[str] = NORTH) -> Charts:
    return Charts(AlarmSetup(irrigation=(rule,)), NAMES, hourly, frozenset(believed), START_US)


def event(kind: AlarmKind, subject: str, age_h: int = 0, **evidence: object) -> AlarmEvent:
    raised_us = START_US - age_h * HOUR_US
    return AlarmEvent(AlarmKey(kind, subject), Change.RAISED, START_US, raised_us, evidence=evidence)  # type: ignore[arg-type]


def chart_of(event: AlarmEvent, voice: Voice = VOICE, **how: object) -> Chart:
    (chart,) = charts(**how).of(event, voice)  # type: ignore[arg-type]
    return chart


DRY = event(AlarmKind.IRRIGATE_NOW, "zone/north")


def test_a_zone_is_shown_with_its_tensiometers_beside_it_and_its_limits() -> None:
    chart = chart_of(DRY)
    assert [(line.label, line.is_main) for line in chart.lines] == [
        ("together", True), ("north-20", False), ("north-40", False), ("north-60", False),
    ]  # fmt: skip
    assert chart.lines[0].values[-1] == 40.0
    assert chart.limits == (Limit("irrigate now", 60.0), Limit("plan an irrigation", 40.0))
    assert chart.title == "north block: soil water tension, 7 days"
    assert chart.marks == ()


def test_a_chart_shows_seven_days_up_to_this_hour() -> None:
    chart = chart_of(DRY)
    assert chart.steps == 7 * 24
    assert (chart.end_us, chart.step_us) == (NOW * HOUR_US, HOUR_US)


@pytest.mark.parametrize(("way", "last"), [(Poll.MEDIAN, 40.0), (Poll.ANY, 50.0), (3, 20.0)])
def test_together_they_say_what_the_zone_is_judged_by(way: Poll | int, last: float) -> None:
    rule = IrrigationRule("zone/north", NORTH, 40.0, 60.0, 5.0, Delays(), None, way=way)
    assert chart_of(DRY, rule=rule).lines[0].values[-1] == last


def test_one_that_is_doubted_has_no_say_and_a_question_mark() -> None:
    chart = chart_of(DRY, believed=("north-40", "north-60"))
    assert chart.lines[0].values[-1] == 30.0
    assert [line.label for line in chart.lines[1:]] == ["north-20 (?)", "north-40", "north-60"]


def test_hours_without_readings_are_gaps() -> None:
    values = chart_of(DRY).lines[3].values
    assert [value is None for value in values].count(True) == 24
    assert values[-1] is not None


def test_a_chart_says_in_words_what_it_shows() -> None:
    assert chart_of(DRY).alt == (
        "north block: soil water tension over the last 7 days. Between 23 kPa and 43 kPa, at last 40 kPa. "
        'Limit "irrigate now": 60 kPa. Limit "plan an irrigation": 40 kPa.'
    )


def test_a_chart_is_in_the_unit_of_its_reader() -> None:
    chart = chart_of(DRY, Voice(units="hPa"))
    assert chart.unit == "hPa"
    assert chart.lines[0].values[-1] == 400.0
    assert chart.limits[0].value == 600.0
    assert "at last 400 hPa" in chart.alt


@pytest.mark.parametrize(("age_h", "days", "step_h"), [(100, 7, 1), (130, 14, 2), (300, 28, 3), (5000, 28, 3)])
def test_a_chart_goes_back_to_before_it_began(age_h: int, days: int, step_h: int) -> None:
    finding = event(AlarmKind.LOST_WATER, "tensiometer/north-20", since_us=START_US - age_h * HOUR_US)
    chart = chart_of(finding)
    assert chart.steps * step_h == days * 24
    assert chart.step_us == step_h * HOUR_US
    assert chart.end_us == NOW * HOUR_US
    assert [mark.label for mark in chart.marks] == (["evidence begins"] if age_h < 5000 else [])


def test_no_chart_has_more_than_three_hundred_values_in_a_line_or_many_kilobytes() -> None:
    for age_h in (0, 130, 300, 5000):
        chart = chart_of(event(AlarmKind.LOST_WATER, "tensiometer/north-20", since_us=START_US - age_h * HOUR_US))
        assert chart.steps <= 300
        assert len(json.dumps(asdict(chart), separators=(",", ":"))) < 8_000


def test_a_tensiometer_stands_beside_its_neighbours_the_nearest_first() -> None:
    chart = chart_of(event(AlarmKind.SILENT, "tensiometer/north-20", age_h=5))
    assert [(line.label, line.is_main) for line in chart.lines] == [
        ("north-20", True), ("north-40", False), ("north-60", False),
    ]  # fmt: skip
    assert [(mark.label, mark.time_us) for mark in chart.marks] == [("raised", START_US - 5 * HOUR_US)]
    assert chart.limits == ()


def test_a_source_is_shown_by_its_tensiometers() -> None:
    chart = chart_of(event(AlarmKind.SILENT_SOURCE, "source/bus1", others=["north-40", "north-20", "gone"]))
    assert [line.label for line in chart.lines] == ["north-40", "north-20"]
    assert chart.alt == "bus1: soil water tension over the last 7 days."


@pytest.mark.parametrize(
    "told",
    [
        event(AlarmKind.DISK_FILLING, "daemon/disk"),
        event(AlarmKind.SINK_DOWN, "sink/charts"),
        event(AlarmKind.SILENT, "tensiometer/never-heard"),
        event(AlarmKind.SILENT_SOURCE, "source/bus9"),
        event(AlarmKind.OWN_RULE, "rule/deep-wet"),
    ],
    ids=lambda event: event.key.subject,
)
def test_what_has_no_course_has_no_chart(told: AlarmEvent) -> None:
    assert charts().of(told, VOICE) == ()


def test_a_tensiometer_alone_needs_no_name_at_its_line() -> None:
    places = {"creek-30": Place("Quillmere Orchard", "creek", "post 1", "creek-30", 0.3)}
    alone = Charts(AlarmSetup(), NAMES.__class__("s", "UTC", {}, places), lambda *_: [1.0] * 168, frozenset(), START_US)
    (chart,) = alone.of(event(AlarmKind.SILENT, "tensiometer/creek-30"), VOICE)
    assert [line.label for line in chart.lines] == [""]


def test_the_hours_of_a_chart_reach_up_to_the_newest_reading_and_outlast_a_restart() -> None:
    with engine_on(MEMORY) as bench:
        for quarter in range(13):
            time_us = START_US + quarter * HOUR_US // 4
            bench.turn(time_us, line(time_us, n20=10.0 + quarter))
        loaded = Diagnosing(bench.connection, Journal(bench.connection), bench.setup.diagnosis)
        loaded.load()
        first = hour_of(START_US)
        assert loaded.hourly("north-20", first - 2, first + 5) == [None, None, 13.0, 17.0, 21.0, 22.0, None]
        assert loaded.hourly("nobody", first, first + 2) == [None, None]
