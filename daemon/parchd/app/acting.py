"""Doing to alarms what people ask for."""

from collections.abc import Sequence
from dataclasses import dataclass

from parchd.alarms.book import AlarmBook
from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.names import Names
from parchd.alarms.refusals import named
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import AT_REST, Act, ActRefused, Transition
from parchd.app.alarming import Alarming
from parchd.app.requests import Acknowledge, AlarmRequest, Answer, Shelve
from parchd.clock import US_PER_S
from parchd.contract import Verdict

_WORDS = {
    Happening.ACKNOWLEDGED: "acknowledged",
    Happening.RESET: "reset",
    Happening.SHELVED: "shelved until {until}",
    Happening.UNSHELVED: "off the shelf, now {after}",
    Happening.REMOVED: "out of service until it is put back",
    Happening.RESTORED: "back in service, now {after}",
}


@dataclass(frozen=True, slots=True)
class AlarmDesk:
    """Where people bring what they want done to alarms; the transaction is open."""

    alarming: Alarming
    book: AlarmBook
    names: Names

    def do(self, request: AlarmRequest, now_us: int) -> tuple[Answer, list[Transition]]:
        """Do it to every alarm that is meant and can take it; give the answer, and the steps that were taken."""
        steps: list[Transition] = []
        refused: list[str] = []
        try:
            keys = self._meant(request)
        except ActRefused as error:
            return Answer(state="failed", text=str(error), verdict=Verdict.UNKNOWN), []
        for key in keys:
            try:
                steps += self.alarming.act(_act(request, key, now_us), now_us)
            except ActRefused as error:
                refused.append(str(error))
        if not steps:
            stands = self._stands(keys)
            return Answer(state="failed", text="\n".join(refused), verdict=Verdict.REFUSED, alarm_state=stands), []
        said = "\n".join(map(self._words, steps))
        return Answer(state="done", text=said, part=1.0, verdict=Verdict.DONE, alarm_state=steps[-1].after), steps

    def _stands(self, keys: Sequence[AlarmKey | None]) -> str:
        """How the one alarm stands that was meant; empty: it is not one."""
        if len(keys) != 1 or keys[0] is None:
            return ""
        return self.alarming.standings.get(keys[0], AT_REST).state

    def _words(self, step: Transition) -> str:
        until = "" if step.until_us is None else self.names.local(step.until_us)
        after = step.after.value.replace("-", " ")
        return f"{named(step.key)}: {_WORDS[step.happening].format(until=until, after=after)}"

    def _meant(self, request: AlarmRequest) -> list[AlarmKey] | list[None]:
        if request.subject:
            return self._about(request.subject, request.kind)
        return [None] if request.episode else self._waiting(request)

    def _about(self, name: str, kind: AlarmKind | None) -> list[AlarmKey]:
        """The alarms of a subject: those that are not at rest, or the one of the kind, be it at rest or not."""
        known = {*self.book.subjects, *(key.subject for key in self.alarming.standings)}
        subjects = sorted(subject for subject in known if name in (subject, subject.partition("/")[2]))
        if not subjects:
            raise ActRefused(f"nothing that has alarms is called {name}; parchd status lists what there is")
        can = [AlarmKey(k, s) for k in AlarmKind for s in subjects if self.book.knows(AlarmKey(k, s))]
        stand = sorted(key for key in self.alarming.standings if key.subject in subjects)
        keys = stand if kind is None else [key for key in dict.fromkeys((*stand, *can)) if key.kind is kind]
        if not keys:
            kinds = ", ".join(sorted({key.kind for key in can}))
            now = "no alarm now" if kind is None else f"no alarm that is called {kind}"
            raise ActRefused(f"{name} has {now}; it may have {kinds}")
        return keys

    def _waiting(self, request: AlarmRequest) -> list[AlarmKey]:
        """All alarms that wait for an acknowledgement; nothing else is done to all at once."""
        if not isinstance(request, Acknowledge):
            raise ActRefused("say whose alarm: the name of a zone, a tensiometer or a source")
        states = (State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED)
        standings = self.alarming.standings.items()
        waiting = [key for key, one in standings if one.state in states and one.acknowledged_us is None]
        if not (keys := sorted(key for key in waiting if request.kind in (None, key.kind))):
            raise ActRefused("no alarm waits to be acknowledged")
        return keys


def _act(request: AlarmRequest, key: AlarmKey | None, now_us: int) -> Act:
    until_us = now_us + round(request.hours * 3600 * US_PER_S) if isinstance(request, Shelve) else None
    return Act(request.happening, key, request.episode, request.by, request.why.strip(), until_us, request.via)
