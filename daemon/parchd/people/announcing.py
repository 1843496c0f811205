"""What comes: an alarm that is raised, or told again, begins to wait for people."""

from dataclasses import replace

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind
from parchd.people.counting import FLOOD_US, recent
from parchd.people.person import Person
from parchd.people.routing import Meant, meant_for
from parchd.people.state import Episode, Item, Lane
from parchd.people.work import Work


def announce(
    work: Work,
    episode: Episode,
    step: Transition,
    kind: NoticeKind,
    *,
    held: bool = False,
    comes_and_goes: bool = False,
) -> None:
    """Let an alarm wait for everybody whom it concerns.

    Args:
        kind: raised, repeated or reminder; to those who were not told yet it is raised.
        held: it comes and goes, and that was said: it is no reason for a message.
        comes_and_goes: it does so now.
    """
    if episode.key.kind is AlarmKind.ALARM_FLOOD:
        return  # the summary of the flood is the message about it
    for meant in meant_for(work.setup, episode.key, episode.priority, work.now_us):
        lane = _lane(work, episode, step, kind, meant, held=held)
        if lane is None or _is_covered(work, episode, meant.person):
            continue
        item = Item(
            kind if meant.person.key in episode.told else NoticeKind.RAISED,
            step, episode.event, episode.priority, lane, episode.thread, work.now_us,
            comes_and_goes=comes_and_goes and meant.person.gathers,
            instead_of=meant.instead_of, despite=meant.despite,
        )  # fmt: skip
        _uncover(work, episode, meant.person)
        work.put(meant.person, item)
        if item.kind is NoticeKind.RAISED and lane in (Lane.NOW, Lane.CALM):
            _note_for_flood(work, meant.person)


def _lane(work: Work, episode: Episode, step: Transition, kind: NoticeKind, meant: Meant, *, held: bool) -> Lane | None:
    """How it waits; ``None``: this person has heard it, or hears it anyway."""
    person, lane = meant.person, meant.lane
    told = person.key in episode.told
    if kind is not NoticeKind.RAISED and work.waiting(person, episode.thread) is not None:
        return None
    if told and kind is NoticeKind.RAISED:
        if step.happening is not Happening.RAISED:
            return None
        return Lane.EACH if lane is Lane.EACH else Lane.ALONG  # a better explanation of what they know
    if lane is Lane.EACH:
        return lane
    if held:
        return Lane.ALONG
    daily = person.digest is not None and person.digest.weekday is None
    if told and kind is NoticeKind.REPEATED and lane is Lane.CALM and daily:
        return Lane.DIGEST  # each digest says again what still stands
    return lane


def _is_covered(work: Work, episode: Episode, person: Person) -> bool:
    """Whether the more urgent level says it all: water is wanted now, no need to plan it."""
    now = work.episodes.get(AlarmKey(AlarmKind.IRRIGATE_NOW, episode.key.subject))
    if episode.key.kind is not AlarmKind.IRRIGATE_PLAN or now is None:
        return False
    knows = person.key in now.told or work.waiting(person, now.thread) is not None
    return knows and (person.gathers or now.raised_us == episode.raised_us)


def _uncover(work: Work, episode: Episode, person: Person) -> None:
    """Drop the lesser level where it still waits."""
    if episode.key.kind is not AlarmKind.IRRIGATE_NOW or not person.gathers:
        return
    lesser = AlarmKey(AlarmKind.IRRIGATE_PLAN, episode.key.subject)
    items = work.of(person).items
    if any(item.key == lesser and item.asks for item in items):
        work.keep(person, [item for item in items if item.key != lesser or not item.asks])


def _note_for_flood(work: Work, person: Person) -> None:
    known = work.of(person)
    flood = None if known.flood is None else replace(known.flood, alarms=known.flood.alarms + 1)
    recent_us = (*recent(known.recent_us, FLOOD_US, work.now_us), work.now_us)
    work.persons[person.key] = replace(known, recent_us=recent_us, flood=flood)
