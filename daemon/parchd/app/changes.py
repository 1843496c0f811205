"""What has changed within a span of time: alarms, services, water; for digests."""

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening
from parchd.alarms.names import Names, spot_of
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Transition
from parchd.alarms.wording import said_of
from parchd.diagnosis.kinds import EventKind
from parchd.store import findings, services, standings
from parchd.words import Text, Voice, text

MOST = 12
"""Lines that fit on one screen; the newest."""

_STEPS: dict[Happening, tuple[Text, Text]] = {
    Happening.RAISED: (text("raised"), text("raised")),
    Happening.CLEARED: (text("over"), text("over")),
    Happening.ACKNOWLEDGED: (text("acknowledged"), text("acknowledged by {by}")),
    Happening.RESET: (text("reset"), text("reset by {by}")),
    Happening.SHELVED: (text("shelved"), text("shelved by {by}")),
    Happening.UNSHELVED: (text("taken off the shelf"), text("taken off the shelf by {by}")),
    Happening.REMOVED: (text("taken out of service"), text("taken out of service by {by}")),
    Happening.RESTORED: (text("put back into service"), text("put back into service by {by}")),
}
"""What is told of a step, without and with who took it; of others nothing is told."""
_WORK = {
    "install": text("set anew"),
    "refill": text("refilled"),
    "re-prime": text("filled and vented anew"),
    "re-zero": text("zero set anew"),
    "frost-removal": text("protected from frost"),
    "other": text("worked on"),
}

Concerns = Callable[[AlarmKey], bool]


@dataclass(slots=True)
class _Episode:
    """What happened to one alarm."""

    key: AlarmKey
    time_us: int = 0
    event: AlarmEvent | None = None
    steps: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Changes:
    """Reads what has changed.

    Args:
        concerns: whether an alarm is something that the reader looks after.
        zones: those that the reader looks after; empty: all.
    """

    connection: sqlite3.Connection
    names: Names
    voice: Voice
    concerns: Concerns = lambda _key: True
    zones: frozenset[str] = frozenset()

    def rows(self, since_us: int, now_us: int) -> tuple[tuple[str, str], ...]:
        """When and what, the newest first; what finds no room is counted in the last row."""
        found = [*self._alarms(since_us, now_us), *self._services(since_us, now_us), *self._water(since_us, now_us)]
        found.sort(key=lambda change: -change[0])
        shown = tuple((self.voice.moment(time_us), said) for time_us, said in found[:MOST])
        if len(found) <= MOST:
            return shown
        return (*shown, ("", self.voice.say("and {n} more: parchd alarms --history", n=len(found) - MOST)))

    def _alarms(self, since_us: int, now_us: int) -> Iterator[tuple[int, str]]:
        """A line for each episode of an alarm, with all that happened to it."""
        episodes: dict[tuple[AlarmKey, int | None], _Episode] = {}
        for step in standings.history(self.connection, since_us, now_us):
            if step.happening in _STEPS and self.concerns(step.key) and not self._is_silent(step):
                one = episodes.setdefault((step.key, step.raised_us), _Episode(step.key))
                self._add(one, step)
        for (key, raised_us), one in episodes.items():
            urgent = AlarmKey(AlarmKind.IRRIGATE_NOW, key.subject)
            if key.kind is AlarmKind.IRRIGATE_PLAN and (urgent, raised_us) in episodes:
                continue  # two levels that were reached together: the more urgent one says it all
            event = one.event
            if event is None or (event.change is Change.CLEARED and raised_us is not None):
                event = standings.raise_of(self.connection, key, raised_us or 0) or event
            event = event or AlarmEvent(key, Change.RAISED, one.time_us, raised_us or one.time_us)
            spot = spot_of(event, self.names, self.voice)
            need = said_of(event, spot, self.voice).need
            yield one.time_us, f"{spot.place}: {need}: {', '.join(dict.fromkeys(one.steps))}"

    def _is_silent(self, step: Transition) -> bool:
        """A condition that came or went behind a shelf, or where people are told by another alarm."""
        return step.after.is_hidden and step.happening in (Happening.RAISED, Happening.CLEARED)

    def _add(self, one: _Episode, step: Transition) -> None:
        one.time_us = max(one.time_us, step.time_us)
        one.event = one.event or step.event
        bare, with_name = _STEPS[step.happening]
        one.steps.append(self.voice.say(with_name, by=step.by) if step.by else self.voice.say(bare))

    def _services(self, since_us: int, now_us: int) -> Iterator[tuple[int, str]]:
        for record in services.records(self.connection):
            if not since_us <= record.begin_us < now_us or not self._stands_in(record.tensiometer):
                continue
            work = self.voice.say(_WORK.get(record.work, _WORK["other"]))
            said = self.voice.say("{name}: {work}", name=record.tensiometer, work=work)
            if record.by:
                said = self.voice.say("{name}: {work} by {by}", name=record.tensiometer, work=work, by=record.by)
            yield record.begin_us, said

    def _water(self, since_us: int, now_us: int) -> Iterator[tuple[int, str]]:
        """A line for each zone that water reached, with its stations."""
        reached: dict[str, tuple[int, list[str]]] = {}
        for event in findings.events(self.connection, since_us, now_us):
            _, _, place = event.subject.partition("/")
            zone, _, station = place.partition("/")
            if event.kind is EventKind.WETTING and station and (not self.zones or zone in self.zones):
                time_us, stations = reached.get(zone, (0, []))
                reached[zone] = (max(time_us, event.start_us), [*stations, station])
        for zone, (time_us, stations) in reached.items():
            where = self.voice.listing(_once(stations))
            yield (
                time_us,
                self.voice.say("{zone}: water reached {where}", zone=self.names.zone_title(zone), where=where),
            )

    def _stands_in(self, tensiometer: str) -> bool:
        place = self.names.places.get(tensiometer)
        return not self.zones or (place is not None and place.zone in self.zones)


def _once(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))
