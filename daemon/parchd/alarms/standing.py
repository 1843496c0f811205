"""How an alarm stands, and what brought it there."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from parchd.alarms.events import AlarmEvent, AlarmKey, episode_name
from parchd.alarms.lifecycle import Happening, State
from parchd.contract import ParchdError


@dataclass(frozen=True, slots=True)
class Standing:
    """How one alarm stands; all of it is durable.

    Args:
        state: where in its life.
        is_on: its condition holds, whatever people are told.
        since_us: when the state began; a shelf that is set anew, or an alarm that is repeated, begins anew.
        raised_us: names the episode, from its raise until the alarm is normal again; ``None``: there is none.
        by, why, via: who or what brought it into its state. ``why`` of a raise is in its event.
        until_us: when a shelf ends by itself; ``None``: it is on no shelf.
        acknowledged_us: when the episode was acknowledged; ``None``: it was not.
        repeated_us: when it was last annunciated anew; ``None``: it was not.
        by_design: why it is suppressed, also while it is on a shelf or out of service; empty: it is not.
    """

    state: State = State.NORMAL
    is_on: bool = False
    since_us: int = 0
    raised_us: int | None = None
    by: str = ""
    why: str = ""
    via: str = ""
    until_us: int | None = None
    acknowledged_us: int | None = None
    repeated_us: int | None = None
    by_design: str = ""

    def is_over(self, latches: bool) -> bool:
        """Whether an episode that latches went and was not reset."""
        return latches and not self.is_on and self.raised_us is not None


AT_REST = Standing()
"""An alarm of which there is nothing to say; it is kept nowhere."""


@dataclass(frozen=True, slots=True)
class Transition:
    """One step in the life of an alarm; the history is made of these.

    Args:
        key: which alarm.
        time_us: when it was taken; the event behind it has the time of the observation.
        before, happening, after: the step. The same state before and after: it was written down only.
        raised_us: names the episode; ``None``: there is none.
        by: who; empty: nobody, or nobody said.
        why: the reason given.
        until_us: when a shelf ends; else ``None``.
        via: ``judge``, ``command``, ``link``, ``mqtt``, ``api``, ``clock`` or ``configuration``.
        event: what the judge said, where one did.
    """

    key: AlarmKey
    time_us: int
    before: State
    happening: Happening
    after: State
    raised_us: int | None = None
    by: str = ""
    why: str = ""
    until_us: int | None = None
    event: AlarmEvent | None = None
    via: str = "judge"

    @property
    def episode(self) -> str:
        """Name of the episode, as its event names it; empty: there is none."""
        return "" if self.raised_us is None else episode_name(self.key, self.raised_us)

    @property
    def annunciates(self) -> bool:
        """Whether people are to hear of the alarm: it is unacknowledged since this step."""
        return self.after is State.UNACKNOWLEDGED


@dataclass(frozen=True, slots=True)
class Act:
    """What somebody does to an alarm.

    Args:
        happening: what.
        key: to which alarm; ``None``: the one of the episode.
        episode: only if this is its episode now; empty: whichever it is.
        by, why: who, and the reason. Shelving and taking out of service need a reason.
        until_us: when a shelf ends.
        via: see `Transition`.
    """

    happening: Happening
    key: AlarmKey | None = None
    episode: str = ""
    by: str = ""
    why: str = ""
    until_us: int | None = None
    via: str = "command"


class ActRefused(ParchdError, ValueError):
    """What somebody wanted to do to an alarm cannot be done; the text says why, in a sentence."""


_BEGIN_ANEW = {
    State.UNACKNOWLEDGED: (Happening.RAISED, Happening.REPEATED),
    State.SHELVED: (Happening.SHELVED,),
    State.SUPPRESSED: (Happening.SUPPRESSED,),
    State.OUT_OF_SERVICE: (Happening.REMOVED,),
}
_FORGET = (Happening.RAISED, Happening.REPEATED, Happening.SHELVED, Happening.REMOVED)
"""After these an acknowledgement counts no more: who shelves an alarm wants to hear of it when the shelf ends."""


def carried(standing: Standing, step: Transition) -> Standing:
    """How an alarm stands after a step: all that is needed to rebuild standings from the history.

    >>> from parchd.alarms.rules import AlarmKind
    >>> key = AlarmKey(AlarmKind.SILENT, "tensiometer/a")
    >>> step = Transition(key, 9, State.NORMAL, Happening.RAISED, State.UNACKNOWLEDGED, raised_us=5)
    >>> stands = carried(AT_REST, step)
    >>> stands.state.value, stands.is_on, stands.since_us, stands.raised_us
    ('unacknowledged', True, 9, 5)
    """
    by_design = _by_design(standing, step)
    if step.after is State.NORMAL:
        return AT_REST
    stands = replace(
        standing,
        state=step.after,
        is_on=_is_on(standing, step.happening),
        raised_us=_raised_us(standing, step),
        acknowledged_us=_acknowledged_us(standing, step),
        repeated_us=_repeated_us(standing, step),
        by_design=by_design,
    )
    if step.after is step.before and step.happening not in _BEGIN_ANEW.get(step.after, ()):
        return stands
    falls_back = step.after is State.SUPPRESSED and step.happening is not Happening.SUPPRESSED
    why = by_design if falls_back else step.why
    return replace(stands, since_us=step.time_us, by=step.by, why=why, via=step.via, until_us=step.until_us)


def _is_on(standing: Standing, happening: Happening) -> bool:
    return happening is Happening.RAISED or (standing.is_on and happening is not Happening.CLEARED)


def _raised_us(standing: Standing, step: Transition) -> int | None:
    if step.happening is Happening.RAISED:
        return step.raised_us
    return None if step.happening is Happening.RESET else standing.raised_us


def _acknowledged_us(standing: Standing, step: Transition) -> int | None:
    if step.happening is Happening.ACKNOWLEDGED:
        return step.time_us
    return None if step.happening in _FORGET else standing.acknowledged_us


def _repeated_us(standing: Standing, step: Transition) -> int | None:
    if step.happening is Happening.REPEATED:
        return step.time_us
    return None if step.happening is Happening.RAISED else standing.repeated_us


def _by_design(standing: Standing, step: Transition) -> str:
    if step.happening is Happening.SUPPRESSED:
        return step.why
    return "" if step.happening is Happening.RELEASED else standing.by_design


def rebuilt(history: Iterable[Transition]) -> dict[AlarmKey, Standing]:
    """How alarms stand after a history, from its first step on: the same as the register that wrote it."""
    standings: dict[AlarmKey, Standing] = {}
    for step in history:
        stands = carried(standings.pop(step.key, AT_REST), step)
        if stands.state is not State.NORMAL:
            standings[step.key] = stands
    return standings
