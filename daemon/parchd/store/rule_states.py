"""Keeping what rules over readings and findings remember over a restart."""

import sqlite3

from parchd.alarms.rising import Mark
from parchd.alarms.rule_state import LevelKey, RuleState, Said
from parchd.clock import US_PER_S

HOUR_US = 3600 * US_PER_S


def load_rule_state(connection: sqlite3.Connection) -> RuleState:
    """Read all of it."""
    state = RuleState()
    for level, holds, *rest in connection.execute("SELECT * FROM rule_level"):
        state.said[level] = Said(bool(holds), *rest)
    for tensiometer, hour, kpa in connection.execute("SELECT * FROM morning ORDER BY tensiometer, hour"):
        state.marks[tensiometer] = (*state.marks.get(tensiometer, ()), Mark(hour, kpa))
    return state


def save_rule_state(connection: sqlite3.Connection, state: RuleState) -> None:
    """Write what has changed since it was last written, within a transaction."""
    for level in state.changed:
        _save_level(connection, level, state)
    for tensiometer in state.marked:
        _save_marks(connection, tensiometer, state)
    state.changed.clear()
    state.marked.clear()


def rewind_rules(connection: sqlite3.Connection, now_us: int) -> None:
    """Let nothing of it lie in the future, within a transaction: the clock was set back."""
    connection.execute("UPDATE rule_level SET since_us = min(since_us, ?), seen_us = min(seen_us, ?)", (now_us, now_us))
    connection.execute("DELETE FROM morning WHERE hour > ?", (now_us // HOUR_US,))


def _save_level(connection: sqlite3.Connection, level: LevelKey, state: RuleState) -> None:
    said = state.said.get(level)
    if said is None:
        connection.execute("DELETE FROM rule_level WHERE level = ?", (level,))
    else:
        connection.execute("INSERT OR REPLACE INTO rule_level VALUES (?,?,?,?,?)", (level, *said))


def _save_marks(connection: sqlite3.Connection, tensiometer: str, state: RuleState) -> None:
    """Write the new ones and delete the old ones: the others stay as they are."""
    marks = state.marks.get(tensiometer, ())
    hours = (marks[0].hour, marks[-1].hour) if marks else (0, -1)
    connection.execute("DELETE FROM morning WHERE tensiometer = ? AND NOT hour BETWEEN ? AND ?", (tensiometer, *hours))
    rows = [(tensiometer, *mark) for mark in marks]
    connection.executemany("INSERT OR IGNORE INTO morning VALUES (?,?,?)", rows)
