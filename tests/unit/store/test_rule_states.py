"""Keeping what rules remember over a restart."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.alarms.health import Trouble
from parchd.alarms.rising import Mark
from parchd.alarms.rule_state import RuleState, Said
from parchd.store.database import open_writer
from parchd.store.rule_states import load_rule_state, rewind_rules, save_rule_state
from parchd.store.troubles import load_troubles, save_troubles
from parchd.testing.bench import MEMORY
from parchd.testing.site import HOUR_US, START_US

KEY = "own-rule rule/deep-wet: tension north-60 below 2"
HOUR = START_US // HOUR_US


@pytest.fixture
def connection() -> Iterator[sqlite3.Connection]:
    connection = open_writer(Path(MEMORY))
    yield connection
    connection.close()


def test_levels_and_mornings_come_back_as_they_were(connection: sqlite3.Connection) -> None:
    state = RuleState()
    state.note(KEY, True, 1.25, START_US)
    state.mark("north-60", (Mark(HOUR, 20.5), Mark(HOUR + 24, 23.5)))
    save_rule_state(connection, state)
    assert (state.changed, state.marked) == (set(), set())
    assert load_rule_state(connection) == state


def test_what_is_forgotten_is_gone(connection: sqlite3.Connection) -> None:
    state = RuleState()
    state.note(KEY, True, 1.25, START_US)
    state.mark("north-60", (Mark(HOUR, 20.5), Mark(HOUR + 24, 23.5)))
    save_rule_state(connection, state)
    state.forget(KEY)
    state.mark("north-60", (Mark(HOUR + 24, 23.5), Mark(HOUR + 48, 25.0)))
    save_rule_state(connection, state)
    assert load_rule_state(connection) == state
    state.mark("north-60", ())
    save_rule_state(connection, state)
    assert load_rule_state(connection) == RuleState()


def test_nothing_lies_in_the_future_once_the_clock_was_set_back(connection: sqlite3.Connection) -> None:
    state = RuleState()
    state.note(KEY, True, 1.25, START_US)
    state.mark("north-60", (Mark(HOUR - 24, 20.5), Mark(HOUR, 23.5)))
    save_rule_state(connection, state)
    rewind_rules(connection, START_US - HOUR_US)
    back = load_rule_state(connection)
    assert back.said[KEY] == Said(True, 1.25, START_US - HOUR_US, START_US - HOUR_US)
    assert back.marks == {"north-60": (Mark(HOUR - 24, 20.5),)}


def test_troubles_come_back_as_they_were(connection: sqlite3.Connection) -> None:
    troubles = {"notifier/mail": {"anne": Trouble(START_US, "421", False), "ben": Trouble(START_US, "550", True)}}
    save_troubles(connection, troubles, "notifier/mail")
    assert load_troubles(connection) == troubles
    save_troubles(connection, {}, "notifier/mail")
    assert load_troubles(connection) == {}
