"""When nobody answers: the next person is told; and whoever goes away hands on what waits for them."""

from dataclasses import replace

from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind, Priority
from parchd.people.person import Escalation, Person
from parchd.people.presence import is_away, is_quiet, last_resort, stand_in
from parchd.people.routing import lane_for
from parchd.people.state import Episode, Item, Lane
from parchd.people.work import Work

_HANDED_ON = (Lane.EACH, Lane.NOW, Lane.CALM)


def escalate(work: Work) -> None:
    """Let alarms that nobody acknowledged for too long wait for the next of the list."""
    escalation = work.setup.escalation
    if escalation is None:
        return
    for episode in sorted(work.episodes.values(), key=lambda one: one.key):
        late = not 0 <= work.now_us - episode.since_us < escalation.after_us
        if episode.is_open and late and escalation.holds_for(episode.key, episode.priority):
            _ask_next(work, escalation, episode)


def _ask_next(work: Work, escalation: Escalation, episode: Episode) -> None:
    people = [work.setup.persons[key] for key in escalation.people if key in work.setup.persons]
    for n in range(episode.turn, len(people)):
        here = stand_in(work.setup, people[n], work.now_us)
        if here is None or _knows(work, here, episode) or is_quiet(here, episode.priority, work.now_us):
            continue
        instead_of = "" if here is people[n] else people[n].key
        _ask(work, episode, here, n + 1, instead_of=instead_of)
        return
    if people and episode.priority is Priority.HIGH and episode.turn < len(people):
        last = people[-1]
        if _knows(work, last, episode):
            work.episodes[episode.key] = replace(episode, turn=len(people))
        else:
            _ask(work, episode, last, len(people), despite=True)


def _ask(
    work: Work, episode: Episode, person: Person, turn: int, *, instead_of: str = "", despite: bool = False
) -> None:
    lane = lane_for(person, Priority.LOW, Priority.HIGH)
    assert lane is not None, "nothing is below the lowest priority"
    step = Transition(
        episode.key, work.now_us, State.UNACKNOWLEDGED, Happening.REPEATED, State.UNACKNOWLEDGED, episode.raised_us,
        event=episode.event, via="clock",
    )  # fmt: skip
    item = Item(
        NoticeKind.ESCALATED, step, episode.event, episode.priority, lane, episode.thread, work.now_us,
        instead_of=instead_of, unanswered=episode.asked, despite=despite,
    )  # fmt: skip
    work.put(person, item)
    work.episodes[episode.key] = replace(episode, turn=turn, since_us=work.now_us)


def _knows(work: Work, person: Person, episode: Episode) -> bool:
    return person.key in episode.asked or work.waiting(person, episode.thread) is not None


def hand_on(work: Work, person: Person) -> None:
    """Hand on what waits for somebody who is away now: to who stands in, else to the last resort if it has to be."""
    for item in work.of(person).items:
        if item.lane not in _HANDED_ON or item.despite:
            continue
        to = stand_in(work.setup, person, work.now_us)
        if to is None and not _somebody_else_knows(work, person, item):
            to = last_resort(work.setup, item.priority, work.now_us)
        if to is None or to is person:
            keeps = replace(item, lane=Lane.ALONG if to is None else item.lane, despite=to is person)
            work.put(person, keeps)
            continue
        work.keep(person, [one for one in work.of(person).items if one != item])
        episode = work.episodes.get(item.key)
        if work.waiting(to, item.thread) is None and (episode is None or to.key not in episode.told):
            lane = item.lane if to.gathers and item.lane is not Lane.EACH else lane_for(to, Priority.LOW, item.priority)
            assert lane is not None, "nothing is below the lowest priority"
            despite = is_away(to, work.now_us)
            work.put(to, replace(item, lane=lane, instead_of=person.key, despite=despite))


def _somebody_else_knows(work: Work, person: Person, item: Item) -> bool:
    episode = work.episodes.get(item.key)
    told = () if episode is None else episode.told
    others = [one for one in work.setup.persons.values() if one is not person]
    return any(one.key in told or work.waiting(one, item.thread) is not None for one in others)
