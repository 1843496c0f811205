"""From transitions to what waits for people."""

from dataclasses import replace

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening
from parchd.alarms.standing import Transition
from parchd.contract import NoticeKind
from parchd.people.announcing import announce
from parchd.people.counting import REPEAT_US, comes_and_goes, recent
from parchd.people.ending import end
from parchd.people.state import Episode, Lane
from parchd.people.work import Work

_TAKEN_AWAY = (Happening.SHELVED, Happening.SUPPRESSED, Happening.REMOVED)
_AGAIN = {
    Happening.REPEATED: NoticeKind.REPEATED,
    Happening.UNSHELVED: NoticeKind.REMINDER,
    Happening.RESTORED: NoticeKind.REMINDER,
}
"""How somebody who was told hears of an alarm again; what was only suppressed is no news to them."""


def take(work: Work, step: Transition) -> None:
    """Let what follows from a transition wait for those whom it concerns."""
    if step.happening is Happening.RAISED:
        _raised(work, step)
    elif step.happening is Happening.CLEARED:
        end(work, step)
    elif step.annunciates:
        _again(work, step)
    elif step.happening in _TAKEN_AWAY:
        _close(work, step.key)
        _forget(work, step.key)
    elif step.happening is Happening.ACKNOWLEDGED:
        _close(work, step.key)
        _calm(work, step)
    elif step.happening is Happening.RESET:
        end(work, step)


def _raised(work: Work, step: Transition) -> None:
    assert step.raised_us is not None, "a raise begins an episode"
    thread = str((step.event.evidence.get("thread") if step.event else "") or step.episode)
    before = next((one for one in work.episodes.values() if one.is_refined and one.thread == thread), None)
    if before is not None:
        del work.episodes[before.key]
    priority = work.setup.priority(step.key)
    known = before if before is not None and priority <= before.priority else None
    episode = work.episodes[step.key] = Episode(
        step.key, step.raised_us, priority, thread, step.event,
        told=() if known is None else known.told,
        alone=() if known is None else known.alone,
        since_us=work.now_us,
        is_open=step.annunciates,
    )  # fmt: skip
    if step.annunciates:
        earlier = recent(work.raised_us.get(step.key, ()), REPEAT_US, work.now_us)
        work.raised_us[step.key] = times_us = (*earlier, work.now_us)
        held, goes = comes_and_goes(earlier), comes_and_goes(times_us)
        announce(work, episode, step, NoticeKind.RAISED, held=held, comes_and_goes=goes)


def _again(work: Work, step: Transition) -> None:
    known = work.episodes.get(step.key)
    if known is None:
        raised_us = step.time_us if step.raised_us is None else step.raised_us
        known = Episode(step.key, raised_us, work.setup.priority(step.key), step.episode, None)
    episode = work.episodes[step.key] = replace(known, since_us=work.now_us, is_open=True, asked=(), turn=0)
    announce(work, episode, step, _AGAIN.get(step.happening, NoticeKind.RAISED))


def _close(work: Work, key: AlarmKey) -> None:
    """Nobody needs to be asked any more."""
    if key in work.episodes:
        work.episodes[key] = replace(work.episodes[key], is_open=False)


def _forget(work: Work, key: AlarmKey) -> None:
    """Nobody is to hear of it."""
    for person in work.setup.persons.values():
        items = work.of(person).items
        if any(item.key == key and item.asks for item in items):
            work.keep(person, [item for item in items if item.key != key or not item.asks])


def _calm(work: Work, step: Transition) -> None:
    """Somebody has seen it: for the others it is no reason for a message any more."""
    for person in work.setup.persons.values():
        for item in work.of(person).items:
            if item.key == step.key and item.asks and item.lane in (Lane.NOW, Lane.CALM):
                work.put(person, replace(item, lane=Lane.ALONG))
