"""Why an act on an alarm is refused, in a sentence."""

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.manners import Manner
from parchd.alarms.standing import Act, ActRefused, Standing
from parchd.clock import US_PER_S

LONGEST_SHELF_H = 7 * 24
"""Who wants quiet for longer takes the alarm out of service: a shelf must not be forgotten (common practice)."""
LONGEST_SHELF_US = LONGEST_SHELF_H * 3600 * US_PER_S
_ACTS = frozenset(
    {
        Happening.ACKNOWLEDGED, Happening.RESET, Happening.SHELVED, Happening.UNSHELVED, Happening.REMOVED,
        Happening.RESTORED,
    }
)  # fmt: skip
_NEED_A_REASON = (Happening.SHELVED, Happening.REMOVED)
_CANNOT = {
    Happening.ACKNOWLEDGED: "nothing is to be acknowledged",
    Happening.RESET: "only an alarm that is latched can be reset",
    Happening.UNSHELVED: "it is on no shelf",
    Happening.RESTORED: "it is not out of service",
    Happening.SHELVED: "what is out of service needs no shelf",
    Happening.REMOVED: "it cannot be taken out of service",
}


def named(key: AlarmKey) -> str:
    """Name an alarm as commands do.

    >>> from parchd.alarms.rules import AlarmKind
    >>> named(AlarmKey(AlarmKind.SILENT, "tensiometer/north-1"))
    'silent of tensiometer/north-1'
    """
    return f"{key.kind} of {key.subject}"


def refusal(key: AlarmKey, stands: Standing, happening: Happening) -> str:
    """Say why something cannot happen to an alarm as it stands.

    >>> from parchd.alarms.rules import AlarmKind
    >>> from parchd.alarms.standing import AT_REST
    >>> refusal(AlarmKey(AlarmKind.SILENT, "tensiometer/north-1"), AT_REST, Happening.ACKNOWLEDGED)
    'silent of tensiometer/north-1 is normal: nothing is to be acknowledged'
    """
    why = _CANNOT.get(happening, f"it cannot be {happening}")
    if happening is Happening.ACKNOWLEDGED and stands.acknowledged_us is not None:
        by = f" by {stands.by}" if stands.state is State.ACKNOWLEDGED and stands.by else ""
        why = f"it is acknowledged already{by}"
    elif happening is Happening.ACKNOWLEDGED and stands.state is State.SHELVED:
        why = "take it off the shelf first (parchd unshelve)"
    elif happening is Happening.ACKNOWLEDGED and stands.state is State.OUT_OF_SERVICE:
        why = "put it back into service first (parchd put-back)"
    elif happening is Happening.RESET and stands.is_on:
        why = "its cause still holds; it can be reset once that is gone, and a service that is written down does so"
    return f"{named(key)} is {stands.state.value.replace('-', ' ')}: {why}"


def check_act(act: Act, key: AlarmKey, manner: Manner, now_us: int) -> None:
    """Refuse what nobody may do to an alarm, however it stands.

    Raises:
        ActRefused: with the reason.
    """
    if act.happening not in _ACTS:
        raise ActRefused(f"{named(key)}: nobody can do this to an alarm: {act.happening}")
    if act.happening in _NEED_A_REASON and not act.why.strip():
        raise ActRefused(f"{named(key)}: say why, for those who look at it later")
    if act.happening is Happening.SHELVED and not now_us < (act.until_us or 0) <= now_us + LONGEST_SHELF_US:
        raise ActRefused(f"{named(key)}: a shelf ends within seven days; for longer, take it out of service")
    if act.happening is Happening.RESTORED and manner.out_of_service:
        raise ActRefused(
            f"{named(key)}: the configuration takes it out of service ({manner.out_of_service}); change it there"
        )
