"""Telling people: one pure step from transitions and time to messages."""

from collections.abc import Iterable
from enum import Enum

from parchd.alarms.standing import Transition
from parchd.clock import US_PER_S
from parchd.people.escalating import escalate, hand_on
from parchd.people.leaving import leave, leave_despite, leave_each, skip_digest
from parchd.people.person import PeopleSetup
from parchd.people.presence import is_away
from parchd.people.state import TellingState
from parchd.people.taking import take
from parchd.people.telling import Telling
from parchd.people.work import Work

FORGET_US = 24 * 3600 * US_PER_S


class Passing(Enum):
    """Whether time is seen to pass in a call."""

    NONE = "none"
    """It takes transitions only; what waits is left to the next tick."""
    UNTRUSTED = "untrusted"
    """Time passes, but nobody knows what time it is: no digest is sent."""
    TRUSTED = "trusted"


def tell(
    setup: PeopleSetup,
    state: TellingState,
    transitions: Iterable[Transition],
    now_us: int,
    passing: Passing = Passing.TRUSTED,
) -> tuple[TellingState, list[Telling]]:
    """Take what happened to alarms, and give the messages that are to leave now.

    Pure: the same steps give the same messages, however transitions of one moment are cut into calls; call it at every
    tick too, for what waits.

    Args:
        transitions: in order.
        passing: whether what waits may leave.
    """
    work = Work.on(setup, state, now_us)
    if passing is not Passing.NONE:
        _let_time_do_its_part(work, digests=passing is Passing.TRUSTED)
    for step in transitions:
        take(work, step)
    for person in setup.persons.values():
        if not is_away(person, now_us):
            leave_each(work, person)
    return work.state(), work.tellings


def _let_time_do_its_part(work: Work, *, digests: bool) -> None:
    _forget(work)
    escalate(work)
    for person in work.setup.persons.values():
        if is_away(person, work.now_us):
            hand_on(work, person)
            leave_despite(work, person)
            if digests:
                skip_digest(work, person)
    for person in work.setup.persons.values():
        if not is_away(person, work.now_us):
            leave(work, person, digests=digests)


def _forget(work: Work) -> None:
    """Let go what was kept for a better explanation that never came, and raises of more than a day ago."""
    for key, episode in list(work.episodes.items()):
        if episode.is_refined and not 0 <= work.now_us - episode.since_us < FORGET_US:
            del work.episodes[key]
    for key, times_us in list(work.raised_us.items()):
        if not 0 <= work.now_us - times_us[-1] < FORGET_US:
            del work.raised_us[key]
