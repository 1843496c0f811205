"""How an alarm stands, in words for a terminal."""

from collections.abc import Callable

from parchd.alarms.lifecycle import State
from parchd.alarms.standing import Standing, Transition

Local = Callable[[int], str]
"""Writes a time as people of the site read it."""


def state_words(stands: Standing, local: Local) -> str:
    """The state, with who, why and until.

    >>> state_words(Standing(State.SHELVED, True, by="Ada", why="pipe is open", until_us=0), lambda us: "noon")
    'shelved until noon by Ada: pipe is open (its condition holds)'
    """
    words = stands.state.value.replace("-", " ")
    if stands.until_us is not None:
        words += f" until {local(stands.until_us)}"
    words += _who_and_why(stands.by, stands.why)
    if stands.state is State.LATCHED:
        words += ", acknowledged" if stands.acknowledged_us is not None else ""
    return f"{words} (its condition holds)" if stands.state.is_hidden and stands.is_on else words


def step_words(step: Transition, local: Local) -> str:
    """What happened, with who and why, and the state that followed where that is another.

    >>> from parchd.alarms.events import AlarmKey
    >>> from parchd.alarms.lifecycle import Happening
    >>> from parchd.alarms.rules import AlarmKind
    >>> key = AlarmKey(AlarmKind.SILENT, "tensiometer/a")
    >>> step_words(Transition(key, 0, State.SHELVED, Happening.CLEARED, State.SHELVED), str)
    'cleared, stays shelved'
    """
    words = str(step.happening)
    if step.until_us is not None:
        words += f" until {local(step.until_us)}"
    words += _who_and_why(step.by, step.why)
    after = step.after.value.replace("-", " ")
    if step.after is step.before and step.after.is_hidden and step.happening.value != step.after.value:
        return f"{words}, stays {after}"
    return words if step.happening.value == step.after.value else f"{words}, now {after}"


def _who_and_why(by: str, why: str) -> str:
    return (f" by {by}" if by else "") + (f": {why}" if why else "")
