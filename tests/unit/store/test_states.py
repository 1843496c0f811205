"""Keeping what the pipeline and the alarms know over a restart."""

from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Change, Condition, Phase
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.irrigation import EMPTY, Vote, ZoneState
from parchd.alarms.rules import AlarmKind
from parchd.contract import JsonValue, Notice, NoticeKind, Unit
from parchd.pipeline.stage import compile_pipeline, process
from parchd.store import reader
from parchd.store.database import open_writer
from parchd.store.journal import Journal
from parchd.store.outbox import Outbox, next_letter
from parchd.store.standings import save_events
from parchd.store.states import (
    AlarmKeeper,
    get_meta,
    load_alarm_state,
    load_pipeline_state,
    rewind,
    set_meta,
)
from parchd.testing.site import MINUTE_US, START_US, batch, line, reading, sample, small_site

MEMORY = Path(":memory:")
IRRIGATION = (AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN)
FAULTS = tuple(kind for kind in AlarmKind if kind not in IRRIGATION)

times = st.integers(0, 2**60)
conditions = st.builds(Condition, st.sampled_from(Phase), times, st.integers(0, 99), st.none() | times)
names = st.sampled_from(["north-20", "north-40", "creek-30"])
votes = st.dictionaries(names, st.builds(Vote, times, st.floats(-20, 120), st.none() | st.floats(-20, 120)), max_size=3)
levels = st.dictionaries(st.sampled_from(IRRIGATION), conditions, max_size=2)
zones = st.dictionaries(st.sampled_from(["zone/north", "zone/creek"]), st.builds(ZoneState, votes, levels), max_size=2)
fault_keys = st.builds(AlarmKey, st.sampled_from(FAULTS), names.map(lambda name: f"tensiometer/{name}"))
states = st.builds(AlarmState, zones, st.dictionaries(fault_keys, conditions, max_size=4))


def without_empty(state: AlarmState) -> Mapping[str, ZoneState]:
    """A zone of which nothing is known is the same as no zone."""
    return {subject: zone for subject, zone in state.zones.items() if zone != EMPTY}


@settings(max_examples=100, deadline=None)
@given(st.lists(states, min_size=1, max_size=4))
def test_an_alarm_state_survives_a_restart_whatever_came_before_it(story: list[AlarmState]) -> None:
    with closing(open_writer(MEMORY)) as connection:
        keeper = AlarmKeeper(AlarmState())
        for state in story:
            keeper.save(connection, state)
        loaded = load_alarm_state(connection)
        assert (loaded.zones, loaded.faults) == (without_empty(story[-1]), story[-1].faults)


def test_a_keeper_writes_only_what_changed() -> None:
    state = AlarmState({"zone/north": ZoneState({"north-20": Vote(1, 30.0)}, {AlarmKind.IRRIGATE_NOW: Condition()})})
    with closing(open_writer(MEMORY)) as connection:
        keeper = AlarmKeeper(AlarmState())
        keeper.save(connection, state)
        before = connection.total_changes
        keeper.save(connection, state)
        assert connection.total_changes == before


def test_when_each_channel_was_heard_survives_a_restart() -> None:
    with closing(open_writer(MEMORY)) as connection:
        journal = Journal(connection)
        with journal.transaction():
            journal.write([reading("bus1/n20", START_US, 30.0, received_us=START_US + 5)])
        assert load_alarm_state(connection).heard_us == {"bus1/n20": START_US + 5}


def test_a_channel_that_only_ever_said_it_has_no_value_was_never_heard() -> None:
    with closing(open_writer(MEMORY)) as connection:
        journal = Journal(connection)
        _, readings = process(
            compile_pipeline(small_site()[0]), load_pipeline_state(connection), line(START_US, n20=None), START_US,
            clock_trusted=True,
        )  # fmt: skip
        with journal.transaction():
            journal.write(readings)
        assert load_alarm_state(connection).heard_us == {}


def test_a_pipeline_knows_after_a_restart_what_it_knew_before() -> None:
    plan = compile_pipeline(small_site()[0])
    taken = batch(
        sample("vs", START_US, 4900.0, Unit.MV), sample("temp", START_US, 12.5, Unit.CELSIUS),
        sample("n20", START_US, 30.0), sample("n20", START_US - 1, 30.0), sample("n40", START_US, None),
    )  # fmt: skip
    with closing(open_writer(MEMORY)) as connection:
        journal = Journal(connection)
        state, readings = process(plan, load_pipeline_state(connection), taken, START_US, clock_trusted=True)
        with journal.transaction():
            journal.write(readings)
        loaded = load_pipeline_state(connection)
    assert loaded.newest_us == state.newest_us
    assert {channel: loaded.auxiliary[channel] for channel in state.auxiliary} == state.auxiliary


events = st.builds(
    AlarmEvent,
    st.builds(AlarmKey, st.sampled_from(AlarmKind), st.sampled_from(["zone/north", "tensiometer/süd"])),
    st.sampled_from(Change),
    times,
    times,
    st.none() | st.floats(-20, 120),
    st.none() | st.floats(1, 100),
    st.dictionaries(st.text(max_size=5), st.none() | st.integers(0, 9) | st.text(max_size=5), max_size=3),
)


@settings(deadline=None)
@given(st.lists(events, max_size=5))
def test_the_history_of_alarms_reads_as_it_was_written(history: list[AlarmEvent]) -> None:
    with closing(open_writer(MEMORY)) as connection:
        save_events(connection, history, START_US)
        assert list(reader.events(connection, 0, 2**60 + 1)) == history


def test_evidence_of_any_json_type_is_kept() -> None:
    evidence: dict[str, JsonValue] = {"cause": "open circuit", "value": None, "of": 3, "list": [1.5, True]}
    event = AlarmEvent(AlarmKey(AlarmKind.ELECTRICAL, "tensiometer/a"), Change.RAISED, 5, 5, evidence=evidence)
    with closing(open_writer(MEMORY)) as connection:
        save_events(connection, [event], START_US)
        assert list(reader.events(connection, 5, 6)) == [event]


def test_small_facts_are_kept_by_name() -> None:
    with closing(open_writer(MEMORY)) as connection:
        assert get_meta(connection, "digest_day") is None
        set_meta(connection, "digest_day", "2026-06-01")
        set_meta(connection, "digest_day", "2026-06-02")
        assert get_meta(connection, "digest_day") == "2026-06-02"


def test_when_the_clock_was_set_back_nothing_is_left_in_the_future() -> None:
    wrong_us = START_US + 1000 * MINUTE_US
    key = AlarmKey(AlarmKind.SILENT, "tensiometer/north-20")
    state = AlarmState(
        {"zone/north": ZoneState({"north-20": Vote(wrong_us, 30.0), "north-40": Vote(5, 30.0)}, {})},
        {key: Condition(Phase.CLEARING, wrong_us, 1, wrong_us)},
    )
    notice = Notice("n", NoticeKind.TEST, 0, "", "", "")
    with closing(open_writer(MEMORY)) as connection:
        journal, outbox = Journal(connection), Outbox(connection)
        with journal.transaction():
            journal.write([reading("bus1/n20", wrong_us, 30.0), reading("bus1/n40", 5, 30.0)])
            AlarmKeeper(AlarmState()).save(connection, state)
            outbox.add("mail", "anne", notice, wrong_us)
            outbox.release([1], wrong_us)
            rewind(connection, START_US)
        loaded = load_alarm_state(connection)
        assert load_pipeline_state(connection).newest_us == {"bus1/n20": START_US, "bus1/n40": 5}
        assert loaded.heard_us == {"bus1/n20": START_US, "bus1/n40": 5}
        assert loaded.zones["zone/north"].votes == {"north-20": Vote(START_US, 30.0), "north-40": Vote(5, 30.0)}
        assert loaded.faults == {key: Condition(Phase.CLEARING, START_US, 1, wrong_us)}
        assert next_letter(connection, "mail", START_US) is not None
        assert reader.latest(connection)["bus1/n20"].heard_us == START_US
