"""What the engine is told of sources, sinks, notifiers and the disk, and the alarms that follow."""

import sqlite3
from collections.abc import Iterable, Mapping

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.faults import Conditions
from parchd.alarms.health import Space, judge_clock, judge_connection, judge_disk, note_trouble
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import DISK, AlarmSetup, HealthRule
from parchd.app.messages import Delivery, DiskSpace, Outcome, SinkProgress, SourceHealth
from parchd.store.troubles import load_reached, load_troubles, save_reached, save_troubles

CONNECTIONS = (AlarmKind.SOURCE_DOWN, AlarmKind.SINK_DOWN, AlarmKind.NOTIFIER_DOWN)
_FINAL = (Outcome.REFUSED, Outcome.GONE)


class Health:
    """What does not work now, and what of it is on disk. Every call but `load` stands within a transaction."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self.load()

    def load(self) -> None:
        """Take what is on disk as the truth."""
        self._troubles = load_troubles(self._connection)
        self._reached = load_reached(self._connection)

    @property
    def reached_us(self) -> Mapping[str, int]:
        """When each source was there again, after it could not be reached or was silent."""
        return self._reached

    def note_source(self, message: SourceHealth, now_us: int) -> bool:
        """Note whether a source can be reached; true: that is news."""
        news = self._note(f"source/{message.source}", message.trouble, now_us)
        if news and not message.trouble:
            self._note_reached(message.source, now_us)
        return news

    def note_events(self, events: Iterable[AlarmEvent], now_us: int) -> None:
        """Note which sources are silent no more."""
        for event in events:
            if event.key.kind is AlarmKind.SILENT_SOURCE and event.change is Change.CLEARED:
                self._note_reached(event.key.name, now_us)

    def note_sink(self, message: SinkProgress, now_us: int) -> bool:
        """Note whether a sink takes rows; true: that is news."""
        return self._note(f"sink/{message.sink}", message.trouble, now_us)

    def note_delivery(self, message: Delivery, recipient: str, now_us: int) -> bool:
        """Note whether a message to one recipient could be delivered; true: that is news. A refusal is final."""
        trouble = "" if message.outcome is Outcome.SENT else message.trouble or message.outcome.value
        final = message.outcome in _FINAL
        return self._note(f"notifier/{message.notifier}", trouble, now_us, recipient, final=final)

    def forget(self, subject: str, now_us: int) -> None:
        """Forget all troubles of a subject: what it was is there no more."""
        for part in tuple(self._troubles.get(subject, ())):
            self._note(subject, "", now_us, part)

    def keep_only(self, subjects: Iterable[str], now_us: int) -> None:
        """Forget the troubles of all other subjects."""
        for subject in self._troubles.keys() - set(subjects):
            self.forget(subject, now_us)

    def judge(self, setup: AlarmSetup, conditions: Conditions, now_us: int) -> list[AlarmEvent]:
        """Ask at ``now_us`` which connections are down."""
        rules = (rule for rule in setup.health if rule.kind in CONNECTIONS)
        return [event for rule in rules for event in judge_connection(rule, conditions, self._troubles, now_us)]

    @staticmethod
    def judge_clock(setup: AlarmSetup, conditions: Conditions, is_trusted: bool, now_us: int) -> list[AlarmEvent]:
        """Ask whether the time of day can be believed; at ticks, when the clock is looked at."""
        rules = (rule for rule in setup.health if rule.kind is AlarmKind.CLOCK_UNTRUSTED)
        return [event for rule in rules for event in judge_clock(rule, conditions, is_trusted, now_us)]

    def judge_disk(
        self, setup: AlarmSetup, conditions: Conditions, message: DiskSpace, now_us: int
    ) -> list[AlarmEvent]:
        """Take what is free on the disk of the journal."""
        space = Space(message.free_bytes, message.total_bytes, message.is_full)
        rules: list[HealthRule] = [rule for rule in setup.health if rule.subject == DISK]
        return [event for rule in rules for event in judge_disk(rule, setup.disk, conditions, space, now_us)]

    def _note(self, subject: str, trouble: str, now_us: int, part: str = "", *, final: bool = False) -> bool:
        if not trouble and part not in self._troubles.get(subject, ()):
            return False
        note_trouble(self._troubles, subject, trouble, now_us, part=part, final=final)
        save_troubles(self._connection, self._troubles, subject)
        return True

    def _note_reached(self, source: str, now_us: int) -> None:
        self._reached[source] = now_us
        save_reached(self._connection, source, now_us)
