"""The life of an alarm: which state follows which happening, as one table.

States and their order after IEC 62682:2014 and ANSI/ISA-18.2-2016; where these leave a choice, ours is written beside
the row. The page `config/alarms.md` draws it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType


class State(StrEnum):
    """Where an alarm stands. The words are stored: never change one."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"
    LATCHED = "latched"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed"
    OUT_OF_SERVICE = "out-of-service"

    @property
    def is_hidden(self) -> bool:
        """Whether nobody is told, whatever the condition does.

        >>> State.SHELVED.is_hidden, State.LATCHED.is_hidden
        (True, False)
        """
        return self in _HIDDEN


_HIDDEN = frozenset((State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE))


class Happening(StrEnum):
    """What moves an alarm. The words are stored: never change one."""

    RAISED = "raised"
    """Its condition came: the on-delay has run out."""
    CLEARED = "cleared"
    """Its condition went: back past the deadband, and the off-delay has run out."""
    ACKNOWLEDGED = "acknowledged"
    """Somebody has seen it."""
    RESET = "reset"
    """Somebody says that the cause is mended; a service that is written down does so too."""
    SHELVED = "shelved"
    """Somebody wants quiet for a time."""
    UNSHELVED = "unshelved"
    SUPPRESSED = "suppressed"
    """Another condition makes it meaningless."""
    RELEASED = "released"
    """That other condition is over."""
    REMOVED = "removed"
    """Taken out of service, until somebody puts it back."""
    RESTORED = "restored"
    """Put back into service."""
    REPEATED = "repeated"
    """It has stood for so long that it is annunciated anew."""


@dataclass(frozen=True, slots=True)
class Circumstances:
    """What else decides where a happening leads, as it is once it happened.

    Args:
        is_on: the condition holds.
        latches: it stays after its condition went, until it is reset.
        waits: it waits for an acknowledgement after its condition went.
        is_over: an episode that latches is over, and was not reset.
        is_acknowledged: the episode was acknowledged.
        by_design: a reason to suppress it holds.
    """

    is_on: bool = False
    latches: bool = False
    waits: bool = False
    is_over: bool = False
    is_acknowledged: bool = False
    by_design: bool = False


Step = State | Callable[[Circumstances], State | None] | None
"""Where it leads: a state, what depends on circumstances, or nowhere: it cannot happen and changes nothing."""


def _gone(now: Circumstances) -> State:
    """Its condition went while nobody had acknowledged it."""
    if now.latches:
        return State.LATCHED
    return State.RETURNED if now.waits else State.NORMAL


def _gone_seen(now: Circumstances) -> State:
    return State.LATCHED if now.latches else State.NORMAL


def _home(now: Circumstances) -> State:
    """To where the condition is, once an alarm is hidden no more."""
    if now.by_design:
        return State.SUPPRESSED
    if now.is_on:
        return State.ACKNOWLEDGED if now.is_acknowledged else State.UNACKNOWLEDGED
    return State.LATCHED if now.is_over else State.NORMAL


def _latched_seen(now: Circumstances) -> State | None:
    return None if now.is_acknowledged else State.LATCHED


def _suppressed_seen(now: Circumstances) -> State | None:
    return State.SUPPRESSED if now.is_on and not now.is_acknowledged else None


def _stays_if_over(state: State) -> Step:
    return lambda now: state if now.is_over else None


_U, _A, _S, _D, _O = (
    State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE,
)  # fmt: skip

_ROWS: Mapping[State, Mapping[Happening, Step]] = {
    State.NORMAL: {
        Happening.RAISED: _U, Happening.SHELVED: _S, Happening.SUPPRESSED: _D, Happening.REMOVED: _O,
    },
    # A judge that raises what is on begins a new episode.
    State.UNACKNOWLEDGED: {
        Happening.RAISED: _U, Happening.CLEARED: _gone, Happening.ACKNOWLEDGED: _A, Happening.SHELVED: _S,
        Happening.SUPPRESSED: _D, Happening.REMOVED: _O, Happening.REPEATED: _U,
    },
    State.ACKNOWLEDGED: {
        Happening.RAISED: _U, Happening.CLEARED: _gone_seen, Happening.SHELVED: _S, Happening.SUPPRESSED: _D,
        Happening.REMOVED: _O, Happening.REPEATED: _U,
    },
    State.RETURNED: {
        Happening.RAISED: _U, Happening.ACKNOWLEDGED: State.NORMAL, Happening.SHELVED: _S, Happening.SUPPRESSED: _D,
        Happening.REMOVED: _O,
    },
    # Who resets has seen it: a reset needs no acknowledgement before it.
    State.LATCHED: {
        Happening.RAISED: _U, Happening.ACKNOWLEDGED: _latched_seen, Happening.RESET: State.NORMAL,
        Happening.SHELVED: _S, Happening.SUPPRESSED: _D, Happening.REMOVED: _O,
    },
    # Whatever happens behind a shelf is written down and keeps it there; a reason to suppress waits behind it.
    State.SHELVED: {
        Happening.RAISED: _S, Happening.CLEARED: _S, Happening.RESET: _stays_if_over(_S), Happening.SHELVED: _S,
        Happening.UNSHELVED: _home, Happening.SUPPRESSED: _S, Happening.RELEASED: _S, Happening.REMOVED: _O,
    },
    # The program hid it, so a person may still answer it.
    State.SUPPRESSED: {
        Happening.RAISED: _D, Happening.CLEARED: _D, Happening.ACKNOWLEDGED: _suppressed_seen,
        Happening.RESET: _stays_if_over(_D), Happening.SHELVED: _S, Happening.SUPPRESSED: _D,
        Happening.RELEASED: _home, Happening.REMOVED: _O,
    },
    State.OUT_OF_SERVICE: {
        Happening.RAISED: _O, Happening.CLEARED: _O, Happening.RESET: _stays_if_over(_O), Happening.SUPPRESSED: _O,
        Happening.RELEASED: _O, Happening.REMOVED: _O, Happening.RESTORED: _home,
    },
}  # fmt: skip

TABLE: Mapping[tuple[State, Happening], Step] = MappingProxyType(
    {(state, happening): _ROWS[state].get(happening) for state in State for happening in Happening}
)
"""Every state with everything that can happen."""


def follow(state: State, happening: Happening, now: Circumstances) -> State | None:
    """The state that follows; ``None``: it cannot happen in this state and changes nothing.

    The same state means that it is written down and the state stays.

    >>> follow(State.UNACKNOWLEDGED, Happening.CLEARED, Circumstances(latches=True)).value
    'latched'
    >>> follow(State.NORMAL, Happening.ACKNOWLEDGED, Circumstances()) is None
    True
    """
    step = TABLE[state, happening]
    return step(now) if callable(step) else step
