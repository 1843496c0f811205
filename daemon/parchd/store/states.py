"""Keeping what the pipeline and the alarms know over a restart."""

import sqlite3
from collections.abc import Mapping

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Condition, Phase
from parchd.alarms.events import AlarmKey
from parchd.alarms.irrigation import EMPTY, Vote, ZoneState
from parchd.alarms.rules import AlarmKind
from parchd.pipeline.stage import PipelineState, auxiliary_value
from parchd.store.codes import UNIT_OF_CODE
from parchd.store.rule_states import load_rule_state, rewind_rules, save_rule_state


def load_pipeline_state(connection: sqlite3.Connection) -> PipelineState:
    """Read what the last run knew of each channel."""
    newest: dict[str, int] = {}
    auxiliary: dict[str, tuple[int, float]] = {}
    query = "SELECT name, time_us, value, unit FROM latest JOIN channel ON channel.id = channel_id"
    for name, time_us, value, unit in connection.execute(query):
        newest[name] = time_us
        if value is not None:
            auxiliary[name] = (time_us, auxiliary_value(value, UNIT_OF_CODE[unit]))
    return PipelineState(newest, auxiliary)


def load_alarm_state(connection: sqlite3.Connection) -> AlarmState:
    """Read every condition, vote and time of hearing."""
    state = AlarmState()
    for subject, tensiometer, *cast in connection.execute("SELECT * FROM vote"):
        zone = state.zones.get(subject, EMPTY)
        state.zones[subject] = ZoneState({**zone.votes, tensiometer: Vote(*cast)}, zone.levels)
    for kind, subject, phase, since_us, count, raised_us in connection.execute("SELECT * FROM alarm"):
        key = AlarmKey(AlarmKind(kind), subject)
        condition = Condition(Phase(phase), since_us, count, raised_us)
        if key.kind in (AlarmKind.IRRIGATE_NOW, AlarmKind.IRRIGATE_PLAN):
            zone = state.zones.get(subject, EMPTY)
            state.zones[subject] = ZoneState(zone.votes, {**zone.levels, key.kind: condition})
        else:
            state.faults[key] = condition
    query = "SELECT name, heard_us FROM latest JOIN channel ON channel.id = channel_id WHERE heard_us > 0"
    state.heard_us.update(connection.execute(query))
    state.rules = load_rule_state(connection)
    return state


class AlarmKeeper:
    """Writes the parts of an alarm state that changed since it was last written."""

    def __init__(self, state: AlarmState) -> None:
        self._zones = dict(state.zones)
        self._faults = dict(state.faults)

    def save(self, connection: sqlite3.Connection, state: AlarmState) -> None:
        """Write the changes within a transaction."""
        self._save_zones(connection, state.zones)
        if state.faults != self._faults:
            self._save_conditions(connection, self._faults, state.faults)
            self._faults = dict(state.faults)
        if state.rules.changed or state.rules.marked:
            save_rule_state(connection, state.rules)

    def _save_zones(self, connection: sqlite3.Connection, zones: Mapping[str, ZoneState]) -> None:
        for subject in self._zones.keys() | zones.keys():
            before, after = self._zones.get(subject, EMPTY), zones.get(subject, EMPTY)
            if before is after:
                continue
            gone = before.votes.keys() - after.votes.keys()
            changed = [(subject, t, *v) for t, v in after.votes.items() if before.votes.get(t) != v]
            connection.executemany(
                "DELETE FROM vote WHERE subject = ? AND tensiometer = ?", [(subject, t) for t in gone]
            )
            connection.executemany("INSERT OR REPLACE INTO vote VALUES (?,?,?,?,?)", changed)
            if before.levels != after.levels:
                self._save_conditions(connection, _keyed(subject, before), _keyed(subject, after))
        self._zones = dict(zones)

    @staticmethod
    def _save_conditions(
        connection: sqlite3.Connection, before: Mapping[AlarmKey, Condition], after: Mapping[AlarmKey, Condition]
    ) -> None:
        gone = [tuple(key) for key in before.keys() - after.keys()]
        changed = [
            (key.kind, key.subject, c.phase, c.since_us, c.count, c.raised_us)
            for key, c in after.items()
            if before.get(key) != c
        ]
        connection.executemany("DELETE FROM alarm WHERE kind = ? AND subject = ?", gone)
        connection.executemany("INSERT OR REPLACE INTO alarm VALUES (?,?,?,?,?,?)", changed)


def rewind(connection: sqlite3.Connection, now_us: int) -> None:
    """Let no kept time lie in the future, within a transaction: the clock was set back.

    Without it channels would stay late, alarms undecided and messages unsent until the old time is reached again.
    """
    connection.execute("UPDATE latest SET time_us = min(time_us, ?), heard_us = min(heard_us, ?)", (now_us, now_us))
    connection.execute("UPDATE vote SET time_us = min(time_us, ?)", (now_us,))
    connection.execute("UPDATE alarm SET since_us = min(since_us, ?)", (now_us,))
    connection.execute("UPDATE reached SET at_us = min(at_us, ?)", (now_us,))
    rewind_rules(connection, now_us)
    connection.execute("UPDATE outbox SET next_us = min(next_us, ?) WHERE state = 'ready'", (now_us,))


def get_meta(connection: sqlite3.Connection, key: str) -> str | None:
    row = connection.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
    return None if row is None else str(row[0])


def set_meta(connection: sqlite3.Connection, key: str, value: str) -> None:
    connection.execute("INSERT OR REPLACE INTO meta VALUES (?,?)", (key, value))


def _keyed(subject: str, zone: ZoneState) -> dict[AlarmKey, Condition]:
    return {AlarmKey(kind, subject): condition for kind, condition in zone.levels.items()}
