"""The diagnosis within the engine's transactions: what it is fed, what it says, and what the journal shows of it."""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from parchd.alarms.events import AlarmEvent
from parchd.alarms.findings import ALARM_OF, Told, episode_of
from parchd.contract import Cause, Flag, Reading
from parchd.diagnosis.diagnosis import Diagnosis, Found, taken_us
from parchd.diagnosis.findings import End, Finding, FindingKey, Outcome
from parchd.diagnosis.hours import hour_of
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.diagnosis.open_findings import OpenFindings
from parchd.diagnosis.standing import DiagnosisState
from parchd.physics.causes import flag_of
from parchd.store import findings
from parchd.store.diagnosis import DiagnosisKeeper
from parchd.store.diagnosis_rows import have_other_rows
from parchd.store.doubts import Doubt, doubt_about, doubts, mark_from, mark_some, with_doubt
from parchd.store.findings import FindingRecord
from parchd.store.journal import Journal

Judge = Callable[[Reading], Sequence[AlarmEvent]]
Settle = Callable[[Outcome, int], list[AlarmEvent]]


class Diagnosing:
    """The diagnosis of a site and what of it is on disk. Every call but `load` stands within a transaction."""

    def __init__(self, connection: sqlite3.Connection, journal: Journal, diagnosis: Diagnosis) -> None:
        self._connection = connection
        self._journal = journal
        self._diagnosis = diagnosis
        self._keeper = DiagnosisKeeper()
        self._state = DiagnosisState()
        self._doubts: dict[str, Doubt] = {}
        self._took_other = False

    def load(self) -> None:
        """Take what is on disk as the truth."""
        self._took_other = False
        self._keeper = DiagnosisKeeper()
        self._state = self._keeper.load(self._connection, self._diagnosis)
        self._doubts = dict(doubts(self._connection, self._channels))

    def adopt(self, diagnosis: Diagnosis) -> None:
        """Fit what is known to a setup that may be another."""
        self._diagnosis = diagnosis
        self._state.findings = OpenFindings(one.finding for one in findings.open_findings(self._connection).values())
        diagnosis.begin(self._state)
        self._keeper.adopt(self._connection, self._state, self._journal.newest_seq)
        self._doubts = dict(doubts(self._connection, self._channels))

    def save(self) -> None:
        """Write what has changed; what it took from a reading that is not in the journal is forgotten."""
        self._keeper.save(self._connection, self._state, self._journal.newest_seq)
        if self._took_other:
            self.load()

    def take(
        self, source: str, readings: Sequence[Reading], judge: Judge, settle: Settle
    ) -> tuple[int, list[AlarmEvent]]:
        """Write readings, judge them, and let the diagnosis take them; give how many rows were new, and the events.

        One after another, so that what is found counts for the next, however they are cut into batches.

        Args:
            judge: judges a reading as it is shown: with the doubts about its tensiometer.
            settle: settles with the alarms what was found; gets the time of the reading that made the case.
        """
        self._keeper.delivered.add(source)
        events: list[AlarmEvent] = []
        shown: list[Reading] = []
        own: list[Cause | None] = []
        new = 0
        doubts, state, take, found = self._doubts, self._state, self._diagnosis.take_one, Found()
        for reading in readings:
            doubted = self._doubted(reading) if reading.channel in doubts else reading
            shown.append(doubted)
            own.append(None if doubted is reading else reading.cause)
            events += judge(doubted)
            take(state, reading, found)
            if found.findings or found.events:
                new += self._journal.write(shown, own)
                shown, own = [], []
                events += settle(found.outcome(), taken_us(state, reading) or reading.sample.time_us)
                found = Found()
        new += self._journal.write(shown, own)
        self._took_other = new < len(readings) and have_other_rows(self._connection, readings)
        return new, events

    def listen(self, heard_us: Mapping[str, int], listening_since_us: int, now_us: int) -> Outcome:
        """Ask who is silent."""
        return self._diagnosis.listen(self._state, heard_us, listening_since_us, now_us)

    def serviced(self, tensiometer: str, end_us: int, now_us: int) -> None:
        """Note a service that was written down: what began before its end is over."""
        self.record(self._diagnosis.serviced(self._state, tensiometer, end_us), now_us)

    def dismiss(self, kind: FindingKind, name: str, by: str, because: str, now_us: int) -> Finding | None:
        """Dismiss an open finding about a tensiometer or a source; ``None``: there is none."""
        for subject in (f"tensiometer/{name}", f"source/{name}"):
            key = FindingKey(kind, subject)
            if key in self._state.findings:
                finding = self._state.findings[key]
                self.record(self._diagnosis.dismiss(self._state, key, now_us), now_us, by, because)
                return finding
        return None

    def record(self, outcome: Outcome, now_us: int, by: str = "", because: str = "") -> None:
        """Write down what a step brought, and bring the first of the rows it concerns in line.

        Args:
            by, because: who dismissed it, and why.
        """
        threads: dict[str, str] = {}
        for finding in outcome.findings:
            subject = finding.key.subject
            if finding.is_open:
                findings.begin(self._connection, finding, threads.get(subject) or _thread(finding), now_us)
            else:
                thread = findings.end(self._connection, finding, now_us, by, because)
                if finding.end is End.REFINED:
                    threads[subject] = thread
            if takes_trust(finding.key.kind):
                self._doubt_anew(finding)
        for event in outcome.events:
            findings.note_event(self._connection, event, now_us)
        if outcome.findings:
            self.mark()

    def mark(self) -> None:
        """Bring a slice of rows in line with what is doubted."""
        ids = {self._journal.channel_id(channel): doubt for channel, doubt in self._doubts.items()}
        if mark_some(self._connection, {number: doubt for number, doubt in ids.items() if number is not None}):
            self._journal.refresh_latest()

    @property
    def findings(self) -> Sequence[Finding]:
        """Those that hold."""
        return tuple(self._state.findings.values())

    def told(self) -> dict[FindingKey, Told]:
        """Findings that hold, as the alarms are to tell them."""
        records = findings.open_findings(self._connection)
        return {key: _told(record) for key, record in records.items() if key in self._state.findings}

    def ended(self, key: FindingKey) -> Told | None:
        """The last finding of a key that ended."""
        record = findings.last_ended(self._connection, key)
        return None if record is None else _told(record)

    @property
    def held_kpa(self) -> Callable[[str, float], float]:
        """Gives, for a channel and its tension, the tension that must be low before an alarm may clear."""
        return partial(self._diagnosis.held_kpa, self._state)

    def hourly(self, tensiometer: str, begin: int, end: int) -> list[float | None]:
        """The last tension (kPa) in each of the hours ``begin <= hour < end``, whatever is thought of it."""
        channel = self._channels.get(tensiometer)
        standing = None if channel is None else self._state.standings.get(channel)
        if standing is None:
            return [None] * (end - begin)
        known = [kpa if kpa == kpa else None for kpa in standing.hours.column("last_kpa", begin, end)]
        for hour, still_open in standing.open.items():
            kpa = still_open.carry.tensions_kpa[0]
            if begin <= hour < end and hour_of(still_open.carry.times_us[0]) == hour and kpa == kpa:
                known[hour - begin] = kpa
        return known

    def is_silent_alone(self, tensiometer: str) -> bool:
        """Whether a tensiometer is silent while its source is not."""
        return FindingKey(FindingKind.SILENT_CHANNEL, f"tensiometer/{tensiometer}") in self._state.findings

    @property
    def _channels(self) -> dict[str, str]:
        return {one.name: one.channel for one in self._diagnosis.setup.instruments}

    def _doubted(self, reading: Reading) -> Reading:
        cause = with_doubt(reading.cause, self._doubts[reading.channel].at(reading.sample.time_us))
        if cause is reading.cause or reading.tension_kpa is None:
            return reading
        return replace(reading, cause=cause, flag=flag_of(cause))

    def _doubt_anew(self, finding: Finding) -> None:
        channel = self._channels.get(finding.key.name)
        number = None if channel is None else self._journal.channel_id(channel)
        if channel is None or number is None:
            return
        self._doubts[channel] = doubt_about(self._connection, finding.key.name)
        mark_from(self._connection, number, finding.start_us)


def takes_trust(kind: FindingKind) -> bool:
    """Whether readings are doubted for a finding of this kind."""
    return CONSEQUENCES[kind].flag is not Flag.PASS


def _thread(finding: Finding) -> str:
    return episode_of(finding.key, finding.found_us) if finding.key.kind in ALARM_OF else ""


def _told(record: FindingRecord) -> Told:
    return Told(record.finding, record.thread, record.by, record.because)
