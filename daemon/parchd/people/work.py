"""The state while one call works on it; the state that came in is left as it was."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from parchd.alarms.events import AlarmKey
from parchd.contract import NoticeKind
from parchd.people.person import PeopleSetup, Person
from parchd.people.state import Episode, Item, Lane, PersonState, TellingState
from parchd.people.telling import Telling

_NEW = PersonState()


@dataclass(slots=True)
class Work:
    """What changes while people are told; ``tellings`` is what comes of it, in order."""

    setup: PeopleSetup
    now_us: int
    persons: dict[str, PersonState]
    episodes: dict[AlarmKey, Episode]
    raised_us: dict[AlarmKey, tuple[int, ...]]
    tellings: list[Telling] = field(default_factory=list)

    @classmethod
    def on(cls, setup: PeopleSetup, state: TellingState, now_us: int) -> "Work":
        return cls(setup, now_us, dict(state.persons), dict(state.episodes), dict(state.raised_us))

    def state(self) -> TellingState:
        return TellingState(self.persons, self.episodes, self.raised_us)

    def of(self, person: Person) -> PersonState:
        return self.persons.get(person.key, _NEW)

    def put(self, person: Person, item: Item) -> None:
        """Let something wait for a person. What waits about the same alarm becomes one with it."""
        known = self.of(person)
        others = [one for one in known.items if not _is_same(one, item)]
        same = [one for one in known.items if _is_same(one, item)]
        if same and item.lane is not Lane.EACH:
            item = _merged(same[-1], item)
        items = sorted([*others, item], key=lambda one: one.since_us)
        self.persons[person.key] = replace(known, items=tuple(items))

    def keep(self, person: Person, items: Iterable[Item]) -> None:
        """Let only these wait for a person."""
        self.persons[person.key] = replace(self.of(person), items=tuple(items))

    def waiting(self, person: Person, thread: str) -> Item | None:
        """What waits for a person about an episode and asks for a response."""
        return next((one for one in self.of(person).items if one.thread == thread and one.asks), None)

    def tell(self, person: Person, kind: NoticeKind, items: Iterable[Item], *, day: str = "", alarms: int = 0) -> None:
        """Tell a person of what waited for them: it waits no more, and they know of it."""
        told = tuple(sorted(items, key=lambda one: one.urgency))
        self.keep(person, [one for one in self.of(person).items if one not in told])
        self.tellings.append(Telling(person, kind, told, self.now_us, day, alarms))
        for item in told:
            if item.asks:
                self._note(person, item, alone=len(told) == 1 and kind is not NoticeKind.DIGEST)

    def _note(self, person: Person, item: Item, *, alone: bool) -> None:
        episode = self.episodes.get(item.key)
        if episode is None or episode.thread != item.thread:
            return
        told = tuple(dict.fromkeys([*episode.told, person.key]))
        only = tuple(key for key in episode.alone if key != person.key) + ((person.key,) if alone else ())
        since_us = episode.since_us if item.lane in (Lane.ALONG, Lane.DIGEST) else self.now_us
        self.episodes[item.key] = replace(
            episode,
            told=told,
            asked=tuple(dict.fromkeys([*episode.asked, person.key])),
            alone=only,
            since_us=since_us,
            comes_and_goes=episode.comes_and_goes or item.comes_and_goes,
        )


def _is_same(one: Item, other: Item) -> bool:
    if Lane.EACH in (one.lane, other.lane):
        return one.lane is other.lane and (one.thread, one.kind) == (other.thread, other.kind)
    if one.kind is other.kind is NoticeKind.CLEARED:
        return one.key == other.key
    asking = one.kind is not NoticeKind.CLEARED and other.kind is not NoticeKind.CLEARED
    return asking and (one.key == other.key or one.thread == other.thread)


def _merged(known: Item, new: Item) -> Item:
    """One of two that are about the same alarm: the newer one, that waits as long as the older did in its lane."""
    anew = known.step.episode != new.step.episode and known.key == new.key
    since_us = known.since_us if known.lane is new.lane else new.since_us
    return replace(new, since_us=since_us, times=known.times + (new.times if anew else 0))
