"""The register: how every alarm stands, and the only way to change it."""

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey, episode_name
from parchd.alarms.lifecycle import Circumstances, Happening, State, follow
from parchd.alarms.manners import Manner, MannerOf, usual_manner
from parchd.alarms.refusals import check_act, refusal
from parchd.alarms.standing import AT_REST, Act, ActRefused, Standing, Transition, carried
from parchd.alarms.timers import Timer, timer_of
from parchd.diagnosis.findings import End

DEALT_WITH = {
    End.SERVICED.value: "a service was written down",
    End.DISMISSED.value: "the finding was dismissed",
    End.REFINED.value: "another finding explains it better",
    End.REPEATED.value: "it happened again",
}
"""Ends of a finding that leave nothing to answer of its alarm."""
_HAPPENING = {Change.RAISED: Happening.RAISED, Change.CLEARED: Happening.CLEARED}


class Register:
    """Holds how alarms stand; deterministic, reads no clock. Every change comes back as transitions, in order.

    Args:
        manner: how each alarm behaves; may be replaced.
        standings: of alarms that are not at rest.
        leapt_us: see `leapt`; 0: the clock never did.
    """

    def __init__(
        self,
        manner: MannerOf = usual_manner,
        standings: Mapping[AlarmKey, Standing] | None = None,
        leapt_us: int = 0,
    ) -> None:
        self._manner = manner
        self._standings = dict(standings or {})
        self._leapt_us = leapt_us
        self._idle_us: tuple[int, int] | None = None

    @property
    def standings(self) -> Mapping[AlarmKey, Standing]:
        """How alarms stand that are not at rest."""
        return MappingProxyType(self._standings)

    def standing(self, key: AlarmKey) -> Standing:
        """How an alarm stands."""
        return self._standings.get(key, AT_REST)

    def manner(self, key: AlarmKey) -> Manner:
        """How an alarm behaves."""
        return self._manner(key)

    def behave(self, manner: MannerOf) -> None:
        """Let alarms behave otherwise from now on."""
        self._manner, self._idle_us = manner, None

    def take(self, events: Iterable[AlarmEvent], now_us: int, by: str = "") -> list[Transition]:
        """Take what judges say; a finding may end so that its alarm leaves nothing to answer (`DEALT_WITH`).

        Args:
            by: who is behind it, where an event does not say.
        """
        made: list[Transition] = []
        for event in events:
            key, why = event.key, self._manner(event.key).out_of_service
            if why and self.standing(key).state is not State.OUT_OF_SERVICE:
                made += self.move(key, Happening.REMOVED, now_us, why=why, via="configuration")
            made += self.move(key, _HAPPENING[event.change], now_us, event=event)
            if event.change is Change.CLEARED and (end := str(event.evidence.get("end"))) in DEALT_WITH:
                why = str(event.evidence.get("because") or DEALT_WITH[end])
                made += self.close(key, now_us, by=str(event.evidence.get("by") or by), why=why)
        return made

    def act(self, act: Act, now_us: int) -> list[Transition]:
        """Do to an alarm what somebody wants.

        Raises:
            ActRefused: it cannot be done; nothing was.
        """
        key = self._meant(act)
        stands = self.standing(key)
        check_act(act, key, self._manner(key), now_us)
        until_us = act.until_us if act.happening is Happening.SHELVED else None
        made = self.move(key, act.happening, now_us, by=act.by, why=act.why, until_us=until_us, via=act.via)
        if not made:
            raise ActRefused(refusal(key, stands, act.happening))
        return made

    def suppress(self, reasons: Mapping[AlarmKey, str], now_us: int) -> list[Transition]:
        """Suppress these alarms by design, each for its reason, and release all others."""
        made: list[Transition] = []
        for key in sorted(key for key, one in self._standings.items() if one.by_design and key not in reasons):
            made += self.move(key, Happening.RELEASED, now_us)
        for key in sorted(key for key, why in reasons.items() if self.standing(key).by_design != why):
            made += self.move(key, Happening.SUPPRESSED, now_us, why=reasons[key])
        return made

    def leapt(self, now_us: int) -> None:
        """Let what waits for time to go by wait anew from now on: the clock was set, and shows ``now_us`` since."""
        self._leapt_us, self._idle_us = now_us, None

    def tick(self, now_us: int) -> list[Transition]:
        """Let time do its part: shelves that end, alarms that are repeated, returned ones that waited long enough."""
        if self._idle_us is not None and self._idle_us[0] <= now_us < self._idle_us[1]:
            return []
        made: list[Transition] = []
        for key in sorted(self._standings):
            timer = self._timer(key, now_us)
            if timer is not None and timer.has_run_out(now_us):
                made += self.move(key, timer.happening, now_us, why=timer.reason(now_us), via="clock")
        timers = [timer for key in self._standings if (timer := self._timer(key, now_us)) is not None]
        self._idle_us = (
            max((t.from_us for t in timers), default=-(2**63)),
            min((t.until_us for t in timers), default=2**63),
        )
        return made

    def close(self, key: AlarmKey, now_us: int, *, by: str = "", why: str = "", via: str = "judge") -> list[Transition]:
        """Leave nothing to answer of an episode that is over: reset it where it latches, else acknowledge it."""
        stands = self.standing(key)
        if stands.state is State.LATCHED or stands.is_over(self._manner(key).latches):
            return self.move(key, Happening.RESET, now_us, by=by, why=why, via=via)
        if stands.state is State.RETURNED:
            return self.move(key, Happening.ACKNOWLEDGED, now_us, by=by, why=why, via=via)
        return []

    def move(
        self,
        key: AlarmKey,
        happening: Happening,
        now_us: int,
        *,
        by: str = "",
        why: str = "",
        until_us: int | None = None,
        event: AlarmEvent | None = None,
        via: str = "judge",
    ) -> list[Transition]:
        """Let one thing happen to an alarm; the step it takes, or none where that cannot happen."""
        stands = self.standing(key)
        after = follow(stands.state, happening, circumstances(stands, self._manner(key), happening))
        if after is None:
            return []
        raised_us = stands.raised_us if event is None else event.raised_us
        step = Transition(key, now_us, stands.state, happening, after, raised_us, by, why, until_us, event, via)
        self._idle_us = None
        if after is State.NORMAL:
            self._standings.pop(key, None)
        else:
            self._standings[key] = carried(stands, step)
        return [step]

    def _timer(self, key: AlarmKey, now_us: int) -> Timer | None:
        return timer_of(self._standings[key], self._manner(key), now_us, self._leapt_us)

    def _meant(self, act: Act) -> AlarmKey:
        """The alarm that is meant; an answer to an episode that is over is meant for none."""
        if act.key is not None and not act.episode:
            return act.key
        for key, one in self._standings.items():
            if one.raised_us is not None and episode_name(key, one.raised_us) == act.episode and act.key in (None, key):
                return key
        raise ActRefused("that alarm is over: nothing is left to do")


def circumstances(stands: Standing, manner: Manner, happening: Happening) -> Circumstances:
    """What decides where a happening leads, as it is once it happened."""
    is_on = happening is Happening.RAISED or (stands.is_on and happening is not Happening.CLEARED)
    return Circumstances(
        is_on=is_on,
        latches=manner.latches,
        waits=manner.returned_us != 0,
        is_over=stands.is_over(manner.latches),
        is_acknowledged=stands.acknowledged_us is not None,
        by_design=bool(stands.by_design) and happening is not Happening.RELEASED,
    )
