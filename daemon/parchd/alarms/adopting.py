"""Fitting the register to what else is known: a configuration that may be another, a service that was written down."""

from collections.abc import Callable

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.manners import MannerOf
from parchd.alarms.register import DEALT_WITH, Register
from parchd.alarms.standing import Transition
from parchd.diagnosis.findings import End

Asks = Callable[[AlarmKey], bool]
GONE = "the configuration has it no more"
_BACK = {
    State.SHELVED: Happening.UNSHELVED,
    State.OUT_OF_SERVICE: Happening.RESTORED,
}


def adopt(register: Register, manner: MannerOf, knows: Asks, is_on: Asks, now_us: int) -> list[Transition]:
    """Fit the register to a configuration.

    Args:
        manner: how each alarm behaves now.
        knows: whether the configuration has an alarm; one that it has not goes to rest.
        is_on: whether the judges hold its condition to be on; one that they forgot is over.
    """
    register.behave(manner)
    made: list[Transition] = []
    for key in sorted(register.standings):
        if not knows(key):
            made += _retire(register, key, now_us)
            continue
        if register.standing(key).is_on and not is_on(key):
            made += _forget(register, key, now_us)
        made += _as_configured(register, key, now_us)
    return made


def serviced(register: Register, subject: str, by: str, now_us: int) -> list[Transition]:
    """Reset what is latched about a subject: somebody worked on it, and wrote it down."""
    made: list[Transition] = []
    for key in sorted(key for key in register.standings if key.subject == subject):
        if register.standing(key).state is State.LATCHED or register.standing(key).is_over(
            register.manner(key).latches
        ):
            made += register.close(key, now_us, by=by, why=DEALT_WITH[End.SERVICED], via="command")
    return made


def _as_configured(register: Register, key: AlarmKey, now_us: int) -> list[Transition]:
    stands, why = register.standing(key), register.manner(key).out_of_service
    is_theirs = stands.state is State.OUT_OF_SERVICE and stands.via == "configuration"
    if why and not (is_theirs and stands.why == why):
        return register.move(key, Happening.REMOVED, now_us, why=why, via="configuration")
    if is_theirs and not why:
        return register.move(key, Happening.RESTORED, now_us, via="configuration")
    return []


def _forget(register: Register, key: AlarmKey, now_us: int) -> list[Transition]:
    made = register.move(key, Happening.CLEARED, now_us, why=GONE, via="configuration")
    return made + register.close(key, now_us, why=GONE, via="configuration")


def _retire(register: Register, key: AlarmKey, now_us: int) -> list[Transition]:
    made = _forget(register, key, now_us) if register.standing(key).is_on else []
    if register.standing(key).by_design:
        made += register.move(key, Happening.RELEASED, now_us, why=GONE, via="configuration")
    if (back := _BACK.get(register.standing(key).state)) is not None:
        made += register.move(key, back, now_us, why=GONE, via="configuration")
    return made + register.close(key, now_us, why=GONE, via="configuration")
