"""What follows from a finding for the alarms: votes that count no more, and alarms about the finding itself."""

import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from parchd.alarms.book import AlarmState
from parchd.alarms.events import AlarmEvent
from parchd.alarms.findings import judge_findings
from parchd.alarms.irrigation import Vote
from parchd.app.diagnosing import Diagnosing, takes_trust
from parchd.app.setup import EngineSetup
from parchd.app.speaking import speakers
from parchd.clock import US_PER_S
from parchd.contract import JsonValue
from parchd.diagnosis.findings import Finding, Outcome
from parchd.store import reader

VOTES_BACK_US = 2 * 86_400 * US_PER_S
"""So far back a tensiometer's last word from before the evidence is looked for."""


@dataclass(frozen=True, slots=True)
class Settling:
    """What is needed to let alarms follow the diagnosis, within a transaction; ``alarms`` is changed in place."""

    connection: sqlite3.Connection
    diagnosing: Diagnosing
    setup: EngineSetup
    alarms: AlarmState

    def settle(self, outcome: Outcome, time_us: int, *, now_us: int) -> list[AlarmEvent]:
        """Write down what was found at ``time_us``, and let votes and alarms follow."""
        if not outcome.findings and not outcome.events:
            return []
        self.diagnosing.record(outcome, now_us)
        for finding in outcome.findings:
            if finding.is_open and takes_trust(finding.key.kind):
                self._withdraw(finding)
        return self.judge_findings(time_us)

    def judge_findings(self, time_us: int) -> list[AlarmEvent]:
        """Bring alarms in line with the findings that hold."""
        told, ended = self.diagnosing.told(), self.diagnosing.ended
        return judge_findings(self.alarms.faults, told, ended, self._aside, time_us)

    def _aside(self, finding: Finding) -> Mapping[str, JsonValue]:
        return speakers(self.setup.alarms.faults, self.setup.names.places, self.alarms.faults, finding)

    def _withdraw(self, finding: Finding) -> None:
        """Let the word of a tensiometer that is doubted now be the one from before the evidence."""
        name, start_us = finding.key.name, finding.start_us
        channel = next((rule.channel for rule in self.setup.alarms.faults if rule.tensiometer == name), None)
        if channel is None:
            return

        def earlier(decides: Callable[[int], bool]) -> Vote | None:
            begin_us = start_us - VOTES_BACK_US
            found = reader.last_trusted(self.connection, channel, begin_us, start_us, decides)
            return None if found is None else Vote(*found)

        self.setup.book.withdraw(self.alarms, name, start_us, earlier)
