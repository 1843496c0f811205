"""How alarms stand and how they came to, on disk."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import AT_REST, Standing, Transition, rebuilt
from parchd.store.database import APPLICATION_ID, migrations, open_writer
from parchd.store.standings import history, load_standings, raise_of, save_events, save_standings, save_steps

MEMORY = Path(":memory:")
KEY = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")

times = st.none() | st.integers(0, 2**60)
texts = st.text(max_size=9)
alarm_keys = st.builds(AlarmKey, st.sampled_from(AlarmKind), st.sampled_from(["zone/north", "tensiometer/süd"]))
standings = st.builds(
    Standing, st.sampled_from([s for s in State if s is not State.NORMAL]), st.booleans(), st.integers(0, 2**60), times,
    texts, texts, texts, times, times, times, texts,
)  # fmt: skip
steps = st.builds(
    Transition, alarm_keys, st.integers(0, 2**60), st.sampled_from(State), st.sampled_from(Happening),
    st.sampled_from(State), times, texts, texts, times, st.none(), texts,
)  # fmt: skip


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    with closing(open_writer(MEMORY)) as opened:
        yield opened


@settings(deadline=None)
@given(st.dictionaries(alarm_keys, standings, max_size=4), st.dictionaries(alarm_keys, standings, max_size=4))
def test_standings_read_as_they_were_last_written(
    first: dict[AlarmKey, Standing], second: dict[AlarmKey, Standing]
) -> None:
    with closing(open_writer(MEMORY)) as connection:
        save_standings(connection, first)
        save_standings(connection, second)
        assert load_standings(connection) == first | second
        save_standings(connection, dict.fromkeys(first, AT_REST))
        assert load_standings(connection) == {key: one for key, one in second.items() if key not in first}


@settings(deadline=None)
@given(st.lists(steps, max_size=5))
def test_the_history_reads_as_it_was_written(written: list[Transition]) -> None:
    with closing(open_writer(MEMORY)) as connection:
        save_steps(connection, written, [], [])
        assert list(history(connection)) == written


def test_a_step_comes_back_with_what_the_judge_said(connection: sqlite3.Connection) -> None:
    events = [AlarmEvent(KEY, change, 7, 5, 61.5, 60.0, {"of": 3}) for change in Change]
    made = [
        Transition(KEY, n, State.NORMAL, Happening.RAISED, State.UNACKNOWLEDGED, 5, event=event)
        for n, event in enumerate([events[1], None, events[0]])
    ]
    save_steps(connection, made, events, save_events(connection, events, 9))
    assert list(history(connection)) == made
    assert list(history(connection, 1, 2)) == made[1:2]
    assert raise_of(connection, KEY, 5) == events[0]
    assert raise_of(connection, KEY, 6) is None


def test_alarms_that_were_active_before_they_had_a_life_begin_it_unacknowledged(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with closing(sqlite3.connect(path, isolation_level=None)) as old:
        for number, script in migrations()[:6]:
            old.executescript(f"{script}\nPRAGMA user_version = {number};")
        old.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        old.executemany(
            "INSERT INTO alarm VALUES (?,?,?,?,?,?)",
            [
                ("irrigate-now", "zone/north", "active", 8, 0, 5),
                ("silent", "tensiometer/a", "clearing", 9, 1, 4),
                ("electrical", "tensiometer/a", "raising", 9, 2, None),
            ],
        )
        old.execute(
            "INSERT INTO alarm_event VALUES (1, 6, 5, 'irrigate-now', 'zone/north', 'raised', 5, 61.0, 60.0, '{}')"
        )
    with closing(open_writer(path)) as connection:
        silent = AlarmKey(AlarmKind.SILENT, "tensiometer/a")
        stands = Standing(State.UNACKNOWLEDGED, True, 5, 5, via="judge")
        assert load_standings(connection) == {KEY: stands, silent: replace(stands, since_us=4, raised_us=4)}
        assert rebuilt(history(connection)) == load_standings(connection)
        assert [step.event is not None for step in history(connection)] == [False, True]
