"""Fitting what is remembered to people and alarms that may be others."""

from collections.abc import Mapping
from dataclasses import replace

from parchd.alarms.events import AlarmKey, episode_name
from parchd.alarms.standing import Standing
from parchd.contract import NoticeKind
from parchd.people.person import PeopleSetup, Person
from parchd.people.routing import meant_for
from parchd.people.state import Episode, Item, Lane, TellingState
from parchd.people.work import Work


def adopt(setup: PeopleSetup, state: TellingState, standings: Mapping[AlarmKey, Standing], now_us: int) -> TellingState:
    """Fit what is remembered to a configuration.

    What waits for somebody who is gone goes to those whom it concerns now. An address of a notifier that takes the
    place of another counts as told what that one was told, so that it hears how it ends. An alarm that stands and of
    which nothing is remembered was told before people were known: everybody whom it concerns has heard of it.

    Args:
        standings: of alarms that are not at rest.
    """
    work = Work.on(setup, state, now_us)
    for key, episode in list(work.episodes.items()):
        if key not in standings and not episode.is_refined:
            del work.episodes[key]
        else:
            work.episodes[key] = replace(episode, told=(*episode.told, *_successors(work, episode)))
    for key, stands in standings.items():
        if stands.raised_us is not None and key not in work.episodes and not stands.state.is_hidden:
            work.episodes[key] = _known(setup, key, stands.raised_us, now_us)
    for person in sorted(work.persons.keys() - setup.persons.keys()):
        for item in work.persons.pop(person).items:
            if item.asks and item.lane is not Lane.DIGEST:
                _pass_on(work, item)
    return work.state()


def _known(setup: PeopleSetup, key: AlarmKey, raised_us: int, now_us: int) -> Episode:
    priority = setup.priority(key)
    told = tuple(one.person.key for one in meant_for(setup, key, priority, now_us))
    return Episode(key, raised_us, priority, episode_name(key, raised_us), None, told, since_us=now_us)


def _successors(work: Work, episode: Episode) -> list[str]:
    """Recipients of notifiers that told others before, who are gone."""
    notifiers = {key.partition("/")[0] for key in episode.told if key not in work.setup.persons and "/" in key}
    return [
        person.key
        for person in work.setup.persons.values()
        if not person.is_named
        and not notifiers.isdisjoint(way.notifier for way in person.reach)
        and not _has_heard(work, person, episode)
    ]


def _pass_on(work: Work, item: Item) -> None:
    episode = work.episodes.get(item.key)
    if episode is None:
        return
    for one in meant_for(work.setup, item.key, item.priority, work.now_us):
        if not _has_heard(work, one.person, episode):
            kind = item.kind if item.kind is NoticeKind.ESCALATED else NoticeKind.RAISED
            work.put(
                one.person,
                Item(
                    kind, item.step, item.event, item.priority, one.lane, item.thread, item.since_us,
                    instead_of=one.instead_of, unanswered=item.unanswered, despite=one.despite,
                ),
            )  # fmt: skip


def _has_heard(work: Work, person: Person, episode: Episode) -> bool:
    return person.key in episode.told or work.waiting(person, episode.thread) is not None
