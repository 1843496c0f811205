"""Keeping what the diagnosis knows over a restart; hours that were open are taken from the journal again."""

import logging
import sqlite3
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from parchd.diagnosis.diagnosis import AIR, Diagnosis
from parchd.diagnosis.hours import EMPTY_HOUR, KEPT_HOURS, NAN, SPARE_HOURS, Hour, Hours, hour_of
from parchd.diagnosis.open_findings import OpenFindings
from parchd.diagnosis.setup import DiagnosisSetup
from parchd.diagnosis.standing import DiagnosisState, SourceStanding, Standing
from parchd.store import findings
from parchd.store.diagnosis_rows import rows_to_take
from parchd.store.plain import from_text, to_text

logger = logging.getLogger(__name__)

AIR_ID = 0
NEVER = 2**62
WIDTH = len(Hour._fields)
ELSEWHERE = frozenset(("instrument", "hours", "open"))
"""What of a standing is not in its note: it comes from the setup, from closed hours, and from the journal."""

NoteT = TypeVar("NoteT", Standing, SourceStanding)


@dataclass(slots=True)
class DiagnosisKeeper:
    """Knows what of a diagnosis is on disk, and writes the rest.

    Args:
        names: tensiometer of each channel that has a note.
        marks: row of the journal up to which each source's note holds.
        delivered: sources that have delivered since their note was written.
    """

    names: dict[str, str] = field(default_factory=dict)
    marks: dict[str, int] = field(default_factory=dict)
    delivered: set[str] = field(default_factory=set)

    def load(self, connection: sqlite3.Connection, diagnosis: Diagnosis) -> DiagnosisState:
        """Read everything, open hours from the journal: it is as it was before a restart."""
        state = self._read(connection, diagnosis.setup)
        diagnosis.begin(state)
        self._take_again(connection, diagnosis, state)
        return state

    def adopt(self, connection: sqlite3.Connection, state: DiagnosisState, seq: int) -> None:
        """Forget tensiometers and sources that are gone, and begin with new ones, within a transaction.

        Args:
            seq: the newest row of the journal; the diagnosis has not seen what came before.
        """
        current = {channel: standing.instrument.name for channel, standing in state.standings.items()}
        for channel in [channel for channel, name in self.names.items() if current.get(channel) != name]:
            self._forget(connection, channel)
        for name in self.marks.keys() - state.sources.keys():
            connection.execute("DELETE FROM diagnosis_note WHERE subject = ?", (_source(name),))
            del self.marks[name]
        state.changed.update(current.keys() - self.names.keys())
        state.changed.update(_source(name) for name in state.sources.keys() - self.marks.keys())
        self.save(connection, state, seq)

    def save(self, connection: sqlite3.Connection, state: DiagnosisState, seq: int) -> None:
        """Write what has changed, within a transaction.

        Args:
            seq: the newest row of the journal.
        """
        if state.unsaved_hours:
            _save_hours(connection, state)
        if not state.changed:
            return
        notes = [self._note(subject, state, seq) for subject in sorted(state.changed)]
        if state.air.end:
            notes.append((AIR, "", seq, state.air.begin, 0, ""))
        connection.executemany(
            "INSERT OR REPLACE INTO diagnosis_note VALUES (?,?,?,?,?,?)", [note for note in notes if note is not None]
        )
        state.changed.clear()
        self._move_marks(connection, state, seq)

    def _note(self, subject: str, state: DiagnosisState, seq: int) -> tuple[str, str, int, int, int, str] | None:
        if (standing := state.standings.get(subject)) is not None:
            name = self.names[subject] = standing.instrument.name
            return subject, name, seq, standing.hours.begin, standing.newest_us, to_text(standing, ELSEWHERE)
        name = subject.removeprefix("source/")
        if (source := state.sources.get(name)) is None:
            return None
        self.marks[name] = seq
        self.delivered.discard(name)
        theirs = (one.newest_us for one in state.standings.values() if one.instrument.source == name)
        return subject, "", seq, 0, max(theirs, default=0), to_text(source)

    def _move_marks(self, connection: sqlite3.Connection, state: DiagnosisState, seq: int) -> None:
        """Let notes of silent sources hold up to now: else a start would read the journal from far back."""
        silent = [name for name in state.sources if name not in self.delivered and self.marks.get(name, seq) < seq]
        rows = [(seq, _source(name)) for name in silent]
        connection.executemany("UPDATE diagnosis_note SET seq = ? WHERE subject = ?", rows)
        self.marks.update(dict.fromkeys(silent, seq))

    def _forget(self, connection: sqlite3.Connection, channel: str) -> None:
        connection.execute("DELETE FROM diagnosis_note WHERE subject = ?", (channel,))
        connection.execute(
            "DELETE FROM diagnosis_hour WHERE channel_id = (SELECT id FROM channel WHERE name = ?)", (channel,)
        )
        del self.names[channel]

    def _read(self, connection: sqlite3.Connection, setup: DiagnosisSetup) -> DiagnosisState:
        state = DiagnosisState()
        notes = {row[0]: row[1:] for row in connection.execute("SELECT * FROM diagnosis_note")}
        hours = _hours(connection, {subject: first for subject, (_, _, first, _, _) in notes.items()})
        for one in setup.instruments:
            if one.channel in notes and notes[one.channel][0] == one.name:
                standing = _understood(Standing, notes[one.channel][-1], instrument=one)
                standing.hours = hours.get(one.channel, standing.hours)
                state.standings[one.channel] = standing
            if one.source not in state.sources and (note := notes.get(_source(one.source))) is not None:
                state.sources[one.source] = _understood(SourceStanding, note[-1], name=one.source)
        state.air = hours.get(AIR, state.air)
        state.findings = OpenFindings(record.finding for record in findings.open_findings(connection).values())
        state.dismissed = findings.dismissed(connection)
        self.names = {subject: note[0] for subject, note in notes.items() if note[0]}
        self.marks = {s.removeprefix("source/"): note[1] for s, note in notes.items() if s.startswith("source/")}
        self.delivered = set()
        return state

    def _take_again(self, connection: sqlite3.Connection, diagnosis: Diagnosis, state: DiagnosisState) -> None:
        """Let open hours take what they had taken; arrivals are counted from where their source's note ends."""
        newest_us = {channel: standing.newest_us for channel, standing in state.standings.items()}
        for standing in state.standings.values():
            standing.newest_us = 0
        for seq, reading in rows_to_take(connection, diagnosis.setup, state, self.marks):
            taker = state.standings.get(reading.channel)
            source = None if taker is None else state.sources[taker.instrument.source]
            if source is None:
                diagnosis.take(state, (reading,))
            elif seq > self.marks.get(source.name, 0):
                diagnosis.take(state, (reading,))
                self.delivered.add(source.name)
            else:
                arrivals, source.arrivals = source.arrivals, []
                diagnosis.take(state, (reading,))
                source.arrivals = arrivals
        for channel, before_us in newest_us.items():
            state.standings[channel].newest_us = max(state.standings[channel].newest_us, before_us)


def _source(name: str) -> str:
    return f"source/{name}"


def _understood(kind: type[NoteT], text: str, **known: Any) -> NoteT:
    """Read a note; one that another version wrote and this one does not understand counts for nothing."""
    try:
        return from_text(kind, text, **known)
    except (ValueError, TypeError, KeyError) as error:
        logger.warning("what the diagnosis remembered is lost: %s", error, extra={"event": "diagnosis.forgot"})
        return kind(**known)


def _hours(connection: sqlite3.Connection, firsts: Mapping[str, int]) -> dict[str, Hours]:
    """Read closed hours by channel, from the first that counts; the memory is cut where it was."""
    names = dict(connection.execute("SELECT id, name FROM channel")) | {AIR_ID: AIR}
    found: dict[str, Hours] = {}
    for number, channel_id, summary in connection.execute("SELECT * FROM diagnosis_hour ORDER BY hour, channel_id"):
        name = names.get(channel_id, "")
        if number < firsts.get(name, NEVER):
            continue
        if (hours := found.get(name)) is None:
            hours = found[name] = Hours()
            if number > firsts[name]:
                hours.push(firsts[name], EMPTY_HOUR)
        hours.push(number, _hour(summary))
    return found


def _hour(summary: bytes) -> Hour:
    """Read an hour; columns that came with a later version are not known."""
    numbers = array("f", summary).tolist()[:WIDTH]
    return Hour._make(numbers if len(numbers) == WIDTH else [*numbers, *[NAN] * (WIDTH - len(numbers))])


def _save_hours(connection: sqlite3.Connection, state: DiagnosisState) -> None:
    ids = dict(connection.execute("SELECT name, id FROM channel")) | {AIR: AIR_ID}
    known = [(number, ids[channel], hour) for number, channel, hour in state.unsaved_hours if channel in ids]
    connection.executemany(
        "INSERT OR REPLACE INTO diagnosis_hour VALUES (?,?,?)",
        [(number, channel_id, array("f", hour).tobytes()) for number, channel_id, hour in known],
    )
    once_a_day = [(n - KEPT_HOURS - SPARE_HOURS, i) for n, i, _ in known if (n + i) % 24 == 0]
    connection.executemany("DELETE FROM diagnosis_hour WHERE hour < ? AND channel_id = ?", once_a_day)
    state.unsaved_hours.clear()


def rewind_diagnosis(connection: sqlite3.Connection, now_us: int) -> None:
    """Let nothing that the diagnosis knows lie in the future, within a transaction: the clock was set back.

    What was learnt of a source in a time that never was is forgotten; findings stay, and begin now at the latest.
    """
    connection.execute("DELETE FROM diagnosis_hour WHERE hour >= ?", (hour_of(now_us),))
    ahead = connection.execute(
        "SELECT subject FROM diagnosis_note WHERE newest_us > ? AND subject LIKE 'source/%'", (now_us,)
    ).fetchall()
    for (subject,) in ahead:
        channels = subject.removeprefix("source/") + "/"
        connection.execute(
            "DELETE FROM diagnosis_note WHERE subject = ?1 OR substr(subject, 1, length(?2)) = ?2", (subject, channels)
        )
    connection.execute("DELETE FROM diagnosis_note WHERE subject = ?", (AIR,))
    connection.execute(
        "UPDATE finding SET start_us = min(start_us, ?1), found_us = min(found_us, ?1) WHERE ended_us IS NULL",
        (now_us,),
    )
    connection.execute("UPDATE finding SET closed_us = min(closed_us, ?) WHERE closed_us IS NOT NULL", (now_us,))
