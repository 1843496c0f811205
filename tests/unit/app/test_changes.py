"""What a digest says of what has changed."""

from collections.abc import Iterator

import pytest

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Transition
from parchd.app.changes import MOST, Changes
from parchd.diagnosis.findings import Event
from parchd.diagnosis.kinds import EventKind
from parchd.store import findings, services
from parchd.store.services import ServiceRecord
from parchd.store.standings import save_events, save_steps
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import HOUR_US, START_US, names_of, small_site
from parchd.words import Voice

NAMES = names_of(small_site()[0])
VOICE = Voice(time_zone="Europe/Berlin")
NOW = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
PLAN = AlarmKey(AlarmKind.IRRIGATE_PLAN, "zone/north")
SILENT = AlarmKey(AlarmKind.SILENT, "tensiometer/north-20")


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


def happened(
    bench: Bench, key: AlarmKey, hour: float, happening: Happening, after: State, raised_h: float = 0.0, by: str = ""
) -> None:
    """Let something be in the history of an alarm."""
    time_us, raised_us = round(START_US + hour * HOUR_US), round(START_US + raised_h * HOUR_US)
    change = {Happening.RAISED: Change.RAISED, Happening.CLEARED: Change.CLEARED}.get(happening)
    kpa = (62.0, 60.0) if key.kind is not AlarmKind.SILENT else (None, None)
    event = None if change is None else AlarmEvent(key, change, time_us, raised_us, *kpa)
    step = Transition(key, time_us, State.NORMAL, happening, after, raised_us, by, event=event)
    events = [] if event is None else [event]
    bench.connection.execute("BEGIN")
    save_steps(bench.connection, [step], events, save_events(bench.connection, events, time_us))
    bench.connection.execute("COMMIT")


def said(bench: Bench, since_h: float = -1.0, until_h: float = 24.0, **how: object) -> list[tuple[str, str]]:
    changes = Changes(bench.connection, NAMES, VOICE, **how)  # type: ignore[arg-type]
    return list(changes.rows(round(START_US + since_h * HOUR_US), round(START_US + until_h * HOUR_US)))


def test_all_that_happened_to_an_alarm_is_one_line(bench: Bench) -> None:
    happened(bench, NOW, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    happened(bench, NOW, 1, Happening.REPEATED, State.UNACKNOWLEDGED)
    happened(bench, NOW, 2, Happening.ACKNOWLEDGED, State.ACKNOWLEDGED, by="Anne")
    happened(bench, NOW, 9, Happening.CLEARED, State.NORMAL)
    assert said(bench) == [
        ("Mon 1 Jun, 15:00", "north block: irrigate now (62 kPa): raised, acknowledged by Anne, over"),
    ]  # fmt: skip


def test_the_newest_stands_first_and_another_episode_is_another_line(bench: Bench) -> None:
    happened(bench, SILENT, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    happened(bench, SILENT, 1, Happening.CLEARED, State.NORMAL)
    happened(bench, SILENT, 5, Happening.RAISED, State.UNACKNOWLEDGED, raised_h=5)
    need = "north block: look at cable and supply of north-20 (no data)"
    assert [line for _, line in said(bench)] == [f"{need}: raised", f"{need}: raised, over"]


def test_an_end_is_told_by_the_name_of_what_ended_though_it_began_long_ago(bench: Bench) -> None:
    happened(bench, SILENT, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    happened(bench, SILENT, 9, Happening.CLEARED, State.NORMAL)
    ((when, line),) = said(bench, since_h=8)
    assert (when, line) == ("Mon 1 Jun, 15:00", "north block: look at cable and supply of north-20 (no data): over")


def test_of_two_levels_that_were_reached_together_the_more_urgent_says_it_all(bench: Bench) -> None:
    for key in (PLAN, NOW):
        happened(bench, key, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    assert [line for _, line in said(bench)] == ["north block: irrigate now (62 kPa): raised"]


def test_what_comes_and_goes_behind_a_shelf_is_not_told_but_the_shelf_is(bench: Bench) -> None:
    happened(bench, SILENT, 0, Happening.SHELVED, State.SHELVED, by="Ben")
    happened(bench, SILENT, 1, Happening.CLEARED, State.SHELVED)
    happened(bench, SILENT, 2, Happening.SUPPRESSED, State.SHELVED)
    assert [line.rpartition(": ")[2] for _, line in said(bench)] == ["shelved by Ben"]


def test_services_and_water_are_told(bench: Bench) -> None:
    refill = ServiceRecord("north-20", "refill", START_US + HOUR_US, START_US + 2 * HOUR_US, by="Ines")
    nameless = ServiceRecord("creek-30", "other", START_US, START_US)
    bench.connection.execute("BEGIN")
    for record in (refill, nameless):
        services.add(bench.connection, record, START_US)
    for station, hour in (("post 1", 3), ("post 2", 4)):
        wet = Event(EventKind.WETTING, f"station/north/{station}", START_US + hour * HOUR_US, None)
        findings.note_event(bench.connection, wet, START_US)
    full = Event(EventKind.SATURATION, "tensiometer/north-20", START_US, None)
    findings.note_event(bench.connection, full, START_US)
    bench.connection.execute("COMMIT")
    assert [line for _, line in said(bench)] == [
        "north block: water reached post 1 and post 2", "north-20: refilled by Ines", "creek-30: worked on",
    ]  # fmt: skip
    assert [line for _, line in said(bench, zones=frozenset({"creek"}))] == ["creek-30: worked on"]


def test_alarms_that_somebody_does_not_look_after_are_left_out(bench: Bench) -> None:
    happened(bench, SILENT, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    assert said(bench, concerns=lambda key: key.kind is not AlarmKind.SILENT) == []


def test_nothing_from_outside_the_span_is_told(bench: Bench) -> None:
    happened(bench, NOW, 0, Happening.RAISED, State.UNACKNOWLEDGED)
    assert said(bench, since_h=1) == []
    assert said(bench, until_h=0) == []


def test_more_than_a_screen_holds_is_counted(bench: Bench) -> None:
    for hour in range(MOST + 3):
        happened(bench, SILENT, hour, Happening.RAISED, State.UNACKNOWLEDGED, raised_h=hour)
    rows = said(bench)
    assert len(rows) == MOST + 1
    assert rows[-1] == ("", "and 3 more: parchd alarms --history")


def test_steps_of_an_alarm_nobody_judged_can_be_told(bench: Bench) -> None:
    happened(bench, SILENT, 2, Happening.REMOVED, State.OUT_OF_SERVICE)
    ((_, line),) = said(bench)
    assert line.endswith("(no data): taken out of service")
