"""A day in the life of alarms, broken off between every two steps in SQL: nothing is lost, nothing comes twice.

Once by an error of the disk, after which the same turn is offered again; once by a copy of the files as they are in
that moment, which is what a kill or a power cut leaves, on which a new engine goes on.
"""

import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from parchd.alarms.kinds import AlarmKind
from parchd.alarms.standing import rebuilt
from parchd.app.engine import Engine
from parchd.app.messages import Ask, Message, Tick
from parchd.app.requests import Acknowledge, Answer, RecordService, Shelve
from parchd.store.database import migrate
from parchd.store.standings import history, load_standings
from parchd.testing.bench import MEMORY, engine_on
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, engine_setup_of, line, route

SETUP = engine_setup_of(routes=[route("mail", "anne", "ben"), route("hook", "controller")])
TABLES = (
    "journal", "latest", "channel", "alarm", "vote", "service", "outbox", "told_alarm", "told_raise", "told_person",
    "told_item", "telling",
)  # fmt: skip
LATCHED = """
    INSERT INTO alarm_transition (id, time_us, kind, subject, before, happening, after, raised_us, by, why, via) VALUES
      (1, 1, 'air-leak', 'tensiometer/north-20', 'normal', 'raised', 'unacknowledged', 1, '', '', 'judge'),
      (2, 2, 'air-leak', 'tensiometer/north-20', 'unacknowledged', 'cleared', 'latched', 1, '', '', 'judge');
    INSERT INTO alarm_standing (kind, subject, state, is_on, since_us, raised_us, via)
      VALUES ('air-leak', 'tensiometer/north-20', 'latched', 0, 2, 1, 'judge');
"""
Turn = tuple[int, list[Message]]


class Breaking(sqlite3.Connection):
    """A connection whose n-th step fails before it does anything."""

    breaks_at: int | None = None
    steps = 0

    def execute(self, *arguments: Any) -> sqlite3.Cursor:
        self._step()
        return super().execute(*arguments)

    def executemany(self, *arguments: Any) -> sqlite3.Cursor:
        self._step()
        return super().executemany(*arguments)

    def _step(self) -> None:
        self.steps += 1
        if self.steps == self.breaks_at:
            raise sqlite3.OperationalError("disk I/O error")


def story(answers: list[Answer]) -> list[Turn]:
    """Dry, acknowledged, shelved, wet, dry again; the shelf ends, a day goes by, somebody works on a tensiometer."""

    def north(hours: float, kpa: float) -> Turn:
        now_us = START_US + round(hours * HOUR_US)
        return now_us, [line(now_us, n20=kpa, n40=kpa, n60=kpa), Tick()]

    def ask(hours: float, *requests: Acknowledge | Shelve | RecordService) -> Turn:
        return START_US + round(hours * HOUR_US), [Ask(request, answers.append) for request in requests]

    served_us = START_US + DAY_US + 8 * HOUR_US
    return [
        north(0.0, 70.0),
        ask(0.1, Acknowledge(subject="north", by="Ines")),
        ask(0.2, Shelve(subject="north", kind=AlarmKind.IRRIGATE_PLAN, hours=4, why="rain", by="Ines")),
        north(0.5, 20.0),
        north(1.0, 70.0),
        (START_US + 5 * HOUR_US, [Tick()]),
        (START_US + DAY_US + 5 * HOUR_US, [Tick()]),
        ask(32.0, RecordService(tensiometer="north-20", work="other", begin_us=served_us, end_us=served_us, by="Bo")),
    ]


def engine(connection: sqlite3.Connection, now_us: int = START_US - MINUTE_US) -> Engine:
    return Engine(connection, SETUP, now_us)


def opened(path: Path) -> Breaking:
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, factory=Breaking)
    migrate(connection, path)
    return connection


def left(connection: sqlite3.Connection) -> dict[str, list[tuple[Any, ...]]]:
    """All that counts of a database; alarms must follow from their history."""
    assert rebuilt(history(connection)) == load_standings(connection)
    tables = (*TABLES, "alarm_event", "alarm_transition", "alarm_standing")
    return {table: connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall() for table in tables}


def lived(connection: sqlite3.Connection, turns: Iterable[Turn]) -> None:
    running = engine(connection)
    for now_us, messages in turns:
        running.turn(messages, now_us)


def undisturbed() -> tuple[dict[str, list[tuple[Any, ...]]], list[str]]:
    answers: list[Answer] = []
    with closing(opened(MEMORY)) as connection:
        connection.executescript(LATCHED)
        lived(connection, story(answers))
        return left(connection), [answer.state for answer in answers if answer.state != "working"]


def test_the_story_has_every_step_worth_breaking_off() -> None:
    expected, answers = undisturbed()
    happened = [row[5] for row in expected["alarm_transition"]]
    assert {"raised", "cleared", "acknowledged", "shelved", "unshelved", "repeated", "reset"} <= set(happened)
    assert [row[7] for row in expected["outbox"]].count("waiting") == 0
    # Raised, cleared, raised, repeated; to three recipients each. The lesser level that comes off the shelf is covered.
    assert len(expected["outbox"]) == 3 * 4
    assert answers == ["done"] * 3


def test_a_turn_that_fails_between_any_two_steps_is_repeated_without_loss_or_double() -> None:
    expected = undisturbed()
    with closing(opened(MEMORY)) as connection:
        connection.executescript(LATCHED)
        running = engine(connection)
        before = connection.steps
        lived_through = story([])
        for now_us, messages in lived_through:
            running.turn(messages, now_us)
        count = connection.steps - before
    assert count > 100
    for n in range(1, count + 1):
        assert broken_at(n) == expected, f"broken off at step {n} of {count}"


def broken_at(n: int) -> tuple[dict[str, list[tuple[Any, ...]]], list[str]]:
    answers: list[Answer] = []
    failures = 0
    with closing(opened(MEMORY)) as connection:
        connection.executescript(LATCHED)
        running = engine(connection)
        connection.steps, connection.breaks_at = 0, n
        for now_us, messages in story(answers):
            try:
                running.turn(messages, now_us)
            except sqlite3.OperationalError:
                failures += 1
                running.turn(messages, now_us)
        assert failures == 1
        return left(connection), [answer.state for answer in answers if answer.state != "working"]


def test_a_kill_between_any_two_steps_loses_and_doubles_nothing(tmp_path: Path) -> None:
    expected, _ = undisturbed()
    whole = tmp_path / "journal.db"
    with engine_on(whole, SETUP, START_US - MINUTE_US) as bench:
        bench.connection.executescript(LATCHED)
        bench.restart(START_US - MINUTE_US)
        turns = story([])
        killed: list[tuple[Path, int]] = []
        for number, (now_us, messages) in enumerate(turns):

            def kill(_: str, number: int = number) -> None:
                killed.append((copied(whole, tmp_path / f"killed-{len(killed)}"), number))

            bench.connection.set_trace_callback(kill)
            bench.turn(now_us, *messages)
            bench.connection.set_trace_callback(None)
    assert len(killed) > 100
    for path, number in killed:
        with closing(opened(path)) as connection:
            running = engine(connection, turns[number][0])
            for now_us, messages in turns[number:]:
                running.turn(messages, now_us)
            assert left(connection) == expected, f"killed in turn {number}"
        shutil.rmtree(path.parent)


def copied(database: Path, folder: Path) -> Path:
    """The files as they are in this moment."""
    folder.mkdir()
    for path in (database, database.with_name(database.name + "-wal")):
        if path.exists():
            shutil.copyfile(path, folder / path.name)
    return folder / database.name


@pytest.mark.parametrize("n", [1, 40])
def test_the_breaking_connection_breaks(n: int) -> None:
    with closing(opened(MEMORY)) as connection:
        connection.steps, connection.breaks_at = 0, n
        for _ in range(n - 1):
            connection.execute("SELECT 1")
        with pytest.raises(sqlite3.OperationalError):
            connection.execute("SELECT 1")
