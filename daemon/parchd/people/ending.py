"""What goes: an alarm that is over is told to those who know of it, and is no reason for a message to the others."""

from dataclasses import replace

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind, Priority
from parchd.diagnosis.findings import End
from parchd.people.person import Person
from parchd.people.presence import is_away, is_quiet
from parchd.people.routing import meant_for
from parchd.people.state import Episode, Item, Lane
from parchd.people.work import Work


def end(work: Work, step: Transition) -> None:
    """Take the end of an alarm's condition, or the reset of one that stayed after it.

    Of what happened again only programs hear that the first time is over: people hear of the second.
    """
    episode = work.episodes.get(step.key)
    if episode is None or episode.is_refined:
        return
    evidence = {} if step.event is None else step.event.evidence
    is_refined, is_repeated = (evidence.get("end") == one for one in (End.REFINED, End.REPEATED))
    for person in work.setup.persons.values():
        if not (is_repeated and person.gathers):
            _end_for(work, episode, step, person, is_refined=is_refined)
    if is_refined:
        work.episodes[step.key] = replace(episode, is_open=False, is_refined=True, since_us=work.now_us)
    elif step.after is State.LATCHED:
        work.episodes[step.key] = replace(episode, is_open=False)
    else:
        del work.episodes[step.key]
    _lay_open(work, step)


def _end_for(work: Work, episode: Episode, step: Transition, person: Person, *, is_refined: bool) -> None:
    waiting = work.waiting(person, episode.thread)
    told = person.key in episode.told
    is_cleared = step.happening is Happening.CLEARED
    if not person.gathers:
        if is_cleared and not is_refined and (told or waiting is not None):
            work.put(person, _cleared(work, episode, step, Lane.EACH))
    elif waiting is not None:
        if step.after is not State.LATCHED and not is_refined:
            lane = waiting.lane if waiting.lane is Lane.DIGEST else Lane.ALONG
            work.put(person, replace(waiting, step=step, lane=lane, is_over=True))
    elif told and is_cleared and not is_refined:
        work.put(person, _cleared(work, episode, step, _lane(work, episode, person)))


def _cleared(work: Work, episode: Episode, step: Transition, lane: Lane) -> Item:
    return Item(NoticeKind.CLEARED, step, step.event, episode.priority, lane, episode.thread, work.now_us)


def _lane(work: Work, episode: Episode, person: Person) -> Lane:
    """What was told at once, in a message of its own, ends with one; all other ends ride along."""
    own = person.key in episode.alone and episode.priority is Priority.HIGH and not episode.comes_and_goes
    sleeps = is_away(person, work.now_us) or is_quiet(person, Priority.LOW, work.now_us)
    return Lane.OWN if own and not sleeps else Lane.ALONG


def _lay_open(work: Work, step: Transition) -> None:
    """Let the lesser level stand in the digest, where it was not told because of the more urgent one."""
    if step.key.kind is not AlarmKind.IRRIGATE_NOW:
        return
    lesser = work.episodes.get(AlarmKey(AlarmKind.IRRIGATE_PLAN, step.key.subject))
    if lesser is None or not lesser.is_open:
        return
    for meant in meant_for(work.setup, lesser.key, lesser.priority, work.now_us):
        person = meant.person
        if person.gathers and person.key not in lesser.told and work.waiting(person, lesser.thread) is None:
            # The step says where the lesser level stands: it is as it was raised.
            raised = replace(step, key=lesser.key, happening=Happening.RAISED, after=State.UNACKNOWLEDGED)
            raised = replace(raised, raised_us=lesser.raised_us, event=lesser.event)
            work.put(
                person,
                Item(NoticeKind.RAISED, raised, lesser.event, lesser.priority, Lane.ALONG, lesser.thread, work.now_us),
            )
