"""One condition with its delays: a pure state machine."""

from dataclasses import dataclass
from enum import StrEnum

from parchd.alarms.delays import Delays
from parchd.clock import US_PER_S


class Phase(StrEnum):
    """Where a condition stands. The words are stored: never change one."""

    NORMAL = "normal"
    RAISING = "raising"
    ACTIVE = "active"
    CLEARING = "clearing"

    @property
    def is_active(self) -> bool:
        """Whether the alarm is annunciated: from the raise until the off-delay has run out."""
        return self in _ANNUNCIATED


_ANNUNCIATED = frozenset((Phase.ACTIVE, Phase.CLEARING))


class Change(StrEnum):
    """What a step did to the alarm. The words are stored: never change one."""

    RAISED = "raised"
    CLEARED = "cleared"


@dataclass(frozen=True, slots=True)
class Condition:
    """State of one alarm.

    Args:
        phase: where it stands.
        since_us: when the phase began.
        count: readings in a row that pointed out of the phase (towards raise or clear).
        raised_us: when the active episode began; ``None``: not active. It names the episode.
    """

    phase: Phase = Phase.NORMAL
    since_us: int = 0
    count: int = 0
    raised_us: int | None = None


NORMAL = Condition()


def advance(
    condition: Condition, delays: Delays, *, on: bool, off: bool, time_us: int
) -> tuple[Condition, Change | None]:
    """Move a condition on by one observation.

    Args:
        condition: where it stood.
        delays: how long, and how often in a row, it must be observed.
        on: the observation calls for the alarm.
        off: the observation says that all is well; neither: within the deadband.
        time_us: when it was observed. Time runs between observations: silence neither raises nor clears.

    Returns:
        The new state, and what changed for people, if anything. The on-delay is broken by anything but ``on``,
        the off-delay by anything but ``off`` (IEC 62682: on-delay, off-delay, deadband).

    >>> state, change = advance(NORMAL, Delays(on_s=60), on=True, off=False, time_us=0)
    >>> state.phase.value, change
    ('raising', None)
    >>> state, change = advance(state, Delays(on_s=60), on=True, off=False, time_us=60_000_000)
    >>> state.phase.value, change.value
    ('active', 'raised')
    """
    if condition.phase.is_active:
        if not off:
            return _settle(condition, Phase.ACTIVE, time_us), None
        return _clear(_count(condition, Phase.CLEARING, time_us), delays, time_us)
    if not on:
        return _settle(condition, Phase.NORMAL, time_us), None
    return _raise(_count(condition, Phase.RAISING, time_us), delays, time_us)


def _settle(condition: Condition, phase: Phase, time_us: int) -> Condition:
    if condition.phase is phase:
        return condition
    return Condition(phase, time_us, 0, condition.raised_us)


def _count(condition: Condition, phase: Phase, time_us: int) -> Condition:
    if condition.phase is phase:
        return Condition(phase, condition.since_us, condition.count + 1, condition.raised_us)
    return Condition(phase, time_us, 1, condition.raised_us)


def _raise(condition: Condition, delays: Delays, time_us: int) -> tuple[Condition, Change | None]:
    if not _held(condition, delays.on_s, delays.on_count, time_us):
        return condition, None
    return Condition(Phase.ACTIVE, time_us, 0, time_us), Change.RAISED


def _clear(condition: Condition, delays: Delays, time_us: int) -> tuple[Condition, Change | None]:
    if not _held(condition, delays.off_s, delays.off_count, time_us):
        return condition, None
    return Condition(Phase.NORMAL, time_us), Change.CLEARED


def _held(condition: Condition, delay_s: float, count: int, time_us: int) -> bool:
    return condition.count >= count and time_us - condition.since_us >= delay_s * US_PER_S
