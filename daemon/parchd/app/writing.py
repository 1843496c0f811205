"""Putting into words what people are told."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace

from parchd.alarms.book import AlarmState
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.links import LinkAct
from parchd.alarms.names import Names
from parchd.alarms.wording import Story, alarm_notice
from parchd.app.answers import answering_command, link_maker
from parchd.app.digest import digest_notice
from parchd.app.setup import EngineSetup
from parchd.clock import to_datetime
from parchd.contract import AnswerLink, JsonValue, Notice, NoticeKind, Table
from parchd.diagnosis.findings import Finding
from parchd.people.state import Item
from parchd.people.telling import Telling
from parchd.store import reader
from parchd.store.overflow import LISTED_AS_DATA

MOST_ANSWERS = 5
"""More buttons below one message nobody looks through; the rest is answered by command."""


@dataclass(frozen=True, slots=True)
class Writer:
    """Writes messages from what the engine knows now.

    Args:
        connection: for the newest readings.
        findings: of the diagnosis, those that hold.
    """

    connection: sqlite3.Connection
    setup: EngineSetup
    alarms: AlarmState
    findings: Sequence[Finding]

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

    def _about(self, item: Item, telling: Telling, kind: NoticeKind) -> Notice:
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
        voice = telling.person.voice
        return alarm_notice(event_of(item), self.setup.names, voice, priority=item.priority, story=story)

    def _several(self, telling: Telling) -> Notice:
        notices = [self._about(item, telling, item.kind) for item in telling.items]
        asking = sum(item.asks for item in telling.items)
        many = telling.kind is NoticeKind.FLOOD
        return Notice(
            id=telling.name,
            kind=telling.kind,
            time_us=telling.time_us,
            site=self.setup.names.site,
            subject=f"{telling.alarms if many else asking} alarms{' in ten minutes' if many else ''}, the most urgent:"
            f" {notices[0].subject}",
            summary="One message instead of many; the most urgent first.",
            facts=(("Site", self.setup.names.site),),
            answers=self._acknowledging(notices, telling),
            tables=(self._table("Alarms", telling.items, notices),),
            priority=telling.priority,
            data={"type": f"alarms.{telling.kind}", "count": len(notices), "messages": _data(telling.items, notices)},
            voice=telling.person.voice,
        )

    def _digest(self, telling: Telling) -> Notice:
        newest = reader.latest(self.connection)
        setup, names = self.setup, self.setup.names
        notice = digest_notice(
            telling.day, setup.alarms, names, self.alarms, newest, telling.time_us, self.findings
        )  # fmt: skip
        notices = [self._about(item, telling, item.kind) for item in telling.items]
        new = (self._table("New since the last message", telling.items, notices),) if notices else ()
        return replace(
            notice, id=telling.name, tables=(*new, *notice.tables), voice=telling.person.voice
        )  # fmt: skip

    def _table(self, title: str, items: Sequence[Item], notices: Sequence[Notice]) -> Table:
        rows = tuple(
            (self._when(item, self.setup.names), _what(item), notice.priority.word, notice.subject)
            for item, notice in zip(items, notices, strict=True)
        )
        return Table(title, ("When", "What", "Priority", "Alarm"), rows)

    @staticmethod
    def _when(item: Item, names: Names) -> str:
        return names.local(event_of(item).time_us)


def event_of(item: Item) -> AlarmEvent:
    """What the judge said; of an alarm that nothing is known of any more, that it was raised."""
    if item.event is not None:
        return item.event
    raised_us = item.step.time_us if item.step.raised_us is None else item.step.raised_us
    return AlarmEvent(item.key, Change.RAISED, raised_us, raised_us)


def _what(item: Item) -> str:
    if item.is_over:
        return "over again"
    return "comes and goes" if item.comes_and_goes else item.kind.value


def _data(items: Sequence[Item], notices: Sequence[Notice]) -> list[JsonValue]:
    """The same for programs, in the shape of `messages.merged`."""
    return [
        {
            "type": f"alarm.{item.kind}",
            "kind": item.kind.value,
            "priority": notice.priority.word,
            "time": to_datetime(notice.time_us).isoformat().replace("+00:00", "Z"),
            "thread": item.thread,
            "subject": notice.subject,
        }
        for item, notice in zip(items[:LISTED_AS_DATA], notices, strict=False)
    ]
