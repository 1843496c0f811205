"""Putting into words what people are told."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from parchd.alarms.believed import believed
from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.links import LinkAct
from parchd.alarms.several_wording import Tiding, several_notice
from parchd.alarms.wording import Story, alarm_notice
from parchd.app.answers import answering_command, link_maker
from parchd.app.changes import Changes
from parchd.app.charts import Charts, Hourly
from parchd.app.digest import Digest
from parchd.app.setup import EngineSetup
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import AnswerLink, JsonValue, Notice, NoticeKind
from parchd.diagnosis.findings import Finding
from parchd.people.routing import concerns
from parchd.people.state import Item
from parchd.people.telling import Telling
from parchd.store import reader
from parchd.store.overflow import LISTED_AS_DATA

MOST_ANSWERS = 5
"""More buttons below one message nobody looks through; the rest is answered by command."""
DAY_US = 86_400 * US_PER_S
DRAWN = 3
"""One of the first alarms of several has a picture, if any has."""


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes messages from what the engine knows now.

    Args:
        connection: for the newest readings.
        findings: of the diagnosis, those that hold.
        hourly: the courses of the last days.
    """

    connection: sqlite3.Connection
    setup: EngineSetup
    alarms: AlarmState
    findings: Sequence[Finding]
    hourly: Hourly

    def write(self, telling: Telling) -> Notice:
        """Write one message; the id of each copy of it is made from its own."""
        if telling.kind is NoticeKind.DIGEST:
            return self._digest(telling)
        if telling.kind in (NoticeKind.GROUP, NoticeKind.FLOOD):
            return self._several(telling)
        (item,) = telling.items
        notice = replace(self._about(item, telling, telling.kind), id=telling.name, thread=item.thread)
        return self._with_answers(notice, item, telling) if item.asks else notice

    def _with_answers(self, notice: Notice, item: Item, telling: Telling) -> Notice:
        """Say how to answer: with links, or with a command where there are none."""
        person, raised_us = telling.person, item.step.raised_us
        maker = link_maker(self.connection, self.setup.links)
        if maker is None or raised_us is None:
            command = (person.voice.say("Answer with"), answering_command(item.key))
            return replace(notice, facts=(*notice.facts, command))
        answers = maker.answers_for(item.key, raised_us, person.key, person.voice, telling.time_us)
        return replace(notice, answers=answers)

    def _acknowledging(self, notices: Sequence[Notice], telling: Telling) -> tuple[AnswerLink, ...]:
        """Links that acknowledge what a message about several alarms asks for, the most urgent first."""
        maker, person = link_maker(self.connection, self.setup.links), telling.person
        if maker is None:
            return ()
        asking = [
            (item.key, item.step.raised_us, person.voice.say("Acknowledge: {alarm}", alarm=notice.subject))
            for item, notice in zip(telling.items, notices, strict=True)
            if item.asks
        ]
        return tuple(
            maker.answer(LinkAct.ACKNOWLEDGE, key, raised_us, person.key, label, telling.time_us)
            for key, raised_us, label in asking[:MOST_ANSWERS]
            if raised_us is not None
        )

    def _about(self, item: Item, telling: Telling, kind: NoticeKind, *, drawn: bool = True) -> Notice:
        persons = self.setup.people.persons
        stands_for = persons.get(item.instead_of)
        story = Story(
            kind=None if kind in (NoticeKind.RAISED, NoticeKind.CLEARED) else kind,
            now_us=None if kind in (NoticeKind.RAISED, NoticeKind.CLEARED) else telling.time_us,
            unanswered=tuple(persons[key].name for key in item.unanswered if key in persons),
            instead_of="" if stands_for is None else stands_for.name,
            despite=item.despite,
            times=item.times,
            comes_and_goes=item.comes_and_goes,
        )
        voice, event = telling.person.voice, event_of(item)
        charts = self._charts(telling.time_us).of(event, voice) if drawn else ()
        return alarm_notice(event, self.setup.names, voice, priority=item.priority, story=story, charts=charts)

    def _several(self, telling: Telling) -> Notice:
        tidings = self._tidings(telling)
        notices = [tiding.notice for tiding in tidings]
        notice = several_notice(
            telling.kind,
            tidings,
            telling.person.voice,
            notice_id=telling.name,
            time_us=telling.time_us,
            site=self.setup.names.site,
            priority=telling.priority,
            alarms=telling.alarms,
            data={
                "type": f"alarms.{telling.kind}",
                "count": len(tidings),
                "messages": _data(telling.items, notices),
            },
        )
        return replace(notice, answers=self._acknowledging(notices, telling))

    def _tidings(self, telling: Telling) -> list[Tiding]:
        return [
            Tiding(
                self._about(item, telling, item.kind, drawn=number < DRAWN),
                item.asks,
                item.is_over,
                item.comes_and_goes,
                event_of(item).raised_us,
            )
            for number, item in enumerate(telling.items)
        ]

    def _digest(self, telling: Telling) -> Notice:
        person, names = telling.person, self.setup.names
        weekly = person.digest is not None and person.digest.weekday is not None
        since_us = telling.time_us - (7 if weekly else 1) * DAY_US
        looks_after = partial(concerns, self.setup.people, person)
        changes = Changes(self.connection, names, person.voice, looks_after, person.zones)
        digest = Digest(
            self.setup.alarms,
            names,
            self.alarms,
            reader.latest(self.connection),
            telling.time_us,
            self.findings,
            self._charts(telling.time_us),
            person.voice,
            person.zones,
        )
        rows = (*self._older(telling, since_us), *changes.rows(since_us, telling.time_us))
        return replace(digest.notice(telling.day, rows, since_us), id=telling.name)

    def _older(self, telling: Telling, since_us: int) -> list[tuple[str, str]]:
        """What waited for the digest for longer than it looks back, and what comes and goes."""
        return [
            (telling.person.voice.moment(one.notice.time_us), f"{one.notice.subject}: {one.word(telling.person.voice)}")
            for one in self._tidings(telling)
            if one.comes_and_goes or one.notice.time_us < since_us
        ]

    def _charts(self, now_us: int) -> Charts:
        trusted = believed(self.setup.alarms.faults, self.alarms.faults)
        return Charts(self.setup.alarms, self.setup.names, self.hourly, frozenset(trusted), now_us)


def event_of(item: Item) -> AlarmEvent:
    """What the judge said; of an alarm that nothing is known of any more, that it was raised."""
    if item.event is not None:
        return item.event
    raised_us = item.step.time_us if item.step.raised_us is None else item.step.raised_us
    return AlarmEvent(item.key, Change.RAISED, raised_us, raised_us)


def _data(items: Sequence[Item], notices: Sequence[Notice]) -> list[JsonValue]:
    """The same for programs, in the shape of `messages.merged`."""
    return [
        {
            "type": f"alarm.{item.kind}",
            "kind": item.kind.value,
            "alarm": item.key.kind.value,
            "about": item.key.subject,
            "priority": notice.priority.word,
            "time": to_datetime(notice.time_us).isoformat().replace("+00:00", "Z"),
            "thread": item.thread,
            "subject": notice.subject,
        }
        for item, notice in zip(items[:LISTED_AS_DATA], notices, strict=False)
    ]
