"""What must be remembered to tell people survives a restart at any moment."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.alarms.kinds import AlarmKind
from parchd.people.person import Escalation
from parchd.people.state import TellingState
from parchd.store.database import open_writer
from parchd.store.tellings import TellingKeeper, forget_tellings_before, load_telling_state, note_tellings
from parchd.testing.village import HOUR_US, NIGHT, NOON_US, Village, people, person, program

K = AlarmKind
SETUP = people(
    person("mara", quiet=NIGHT), person("jonas", quiet=NIGHT, lets_pass=None), program(),
    escalation=Escalation(("mara", "jonas"), HOUR_US),
)  # fmt: skip


@dataclass
class Kept(Village):
    """A village whose memory is a database: after each moment it starts anew from what was written."""

    connection: Connection | None = None

    def end_moment(self) -> None:
        assert self.connection is not None
        self.state = load_telling_state(self.connection)
        keeper = TellingKeeper(self.state)
        super().end_moment()
        keeper.save(self.connection, self.state, self.now_us)
        assert load_telling_state(self.connection) == self.state


@pytest.fixture
def connection() -> Iterator[Connection]:
    with closing(open_writer(Path(":memory:"))) as opened:
        yield opened


def rows(connection: Connection, query: str) -> list[tuple[Any, ...]]:
    return connection.execute(query).fetchall()


def live(village: Village, steps: list[tuple[str, int]]) -> Village:
    for word, number in steps:
        kind, subject = [
            (K.IRRIGATE_NOW, "zone/north"), (K.ELECTRICAL, "tensiometer/a"), (K.DROP_OUTS, "tensiometer/a"),
        ][number % 3]  # fmt: skip
        if word == "wait":
            village.wait((5, 70, 800)[number % 3])
        else:
            key = village.raised(kind, subject, since_us=5, confidence=0.5, facts=[["lowest", 1.5, "kPa"]])
            if word == "flicker":
                village.cleared(key)
    village.wait(hours=20)
    return village


STEPS = st.lists(st.tuples(st.sampled_from(["raise", "flicker", "wait"]), st.integers(0, 9)), max_size=12)


@given(STEPS)
@settings(max_examples=25, deadline=None)
def test_a_restart_at_any_moment_changes_no_message(steps: list[tuple[str, int]]) -> None:
    with closing(open_writer(Path(":memory:"))) as connection:
        kept = live(Kept(SETUP, tick_us=HOUR_US // 6, connection=connection), steps)
    assert kept.told == live(Village(SETUP, tick_us=HOUR_US // 6), steps).told


def test_nothing_is_written_while_nothing_happens(connection: Connection) -> None:
    village = Kept(SETUP, connection=connection)
    village.raised(K.ELECTRICAL, "tensiometer/a")
    village.wait(hours=2)
    before = connection.total_changes
    village.wait(hours=2)
    assert connection.total_changes == before


def test_people_who_are_gone_are_forgotten_with_all_that_waited_for_them(connection: Connection) -> None:
    village = Kept(SETUP, connection=connection)
    village.raised(K.ELECTRICAL, "tensiometer/a")
    village.wait(1)
    assert rows(connection, "SELECT person FROM told_item ORDER BY person") == [("jonas",), ("mara",)]
    TellingKeeper(village.state).save(connection, TellingState(), NOON_US)
    assert rows(connection, "SELECT person FROM told_item UNION SELECT person FROM told_person") == []
    assert load_telling_state(connection) == TellingState()


def test_a_flood_is_written_down_with_its_begin_its_end_and_how_many_alarms_it_had(connection: Connection) -> None:
    village = Kept(people(person("mara")), connection=connection)
    for number in range(14):
        village.raised(K.ELECTRICAL, f"tensiometer/t{number}")
    village.wait(2)
    assert rows(connection, "SELECT person, end_us, alarms FROM alarm_flood") == [("mara", None, 14)]
    village.wait(30)
    ((start_us, end_us),) = rows(connection, "SELECT start_us, end_us FROM alarm_flood")
    assert 9 * 60 <= (end_us - start_us) / 1e6 <= 11 * 60


def test_messages_are_written_down_for_reports_and_forgotten_in_time(connection: Connection) -> None:
    village = Kept(SETUP, connection=connection)
    key = village.raised(K.IRRIGATE_NOW)
    village.wait(2)
    village.cleared(key)
    village.wait_until(7)
    note_tellings(connection, village.tellings)
    query = "SELECT person, kind, priority, alarms FROM telling WHERE person != 'jonas' ORDER BY id"
    assert rows(connection, query) == [
        ("hook/controller", "raised", 3, 1), ("mara", "raised", 3, 1), ("hook/controller", "cleared", 3, 0),
        ("mara", "cleared", 3, 0), ("mara", "digest", 1, 0),
    ]  # fmt: skip
    forget_tellings_before(connection, village.now_us)
    assert rows(connection, "SELECT * FROM telling") == []
