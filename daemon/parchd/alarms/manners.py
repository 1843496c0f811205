"""How alarms of a kind behave once they are raised."""

from collections.abc import Callable
from dataclasses import dataclass

from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.rules import AlarmSetup
from parchd.clock import US_PER_S
from parchd.contract import Priority
from parchd.diagnosis.kinds import CONSEQUENCES, Trust

DAY_US = 24 * 3600 * US_PER_S


@dataclass(frozen=True, slots=True)
class Manner:
    """How one alarm behaves.

    Args:
        latches: it stays after its condition went, until somebody resets it.
        repeat_us: it is annunciated anew when it has stood unacknowledged, or acknowledged, for so long; ``None``: it
            is not.
        returned_us: so long it waits for an acknowledgement after its condition went; then it is normal by itself.
            0: it does not wait; ``None``: it waits for ever.
        out_of_service: why the configuration takes it out of service; empty: it does not.
    """

    latches: bool = False
    repeat_us: int | None = None
    returned_us: int | None = 0
    out_of_service: str = ""


_LATCHING = frozenset(alarm for alarm, kind in FINDING_OF.items() if CONSEQUENCES[kind].trust is Trust.SERVICE)
MannerOf = Callable[[AlarmKey], Manner]
"""Gives the manner of an alarm."""


def manners(setup: AlarmSetup) -> MannerOf:
    """How the alarms of a site behave.

    - What hides itself latches: a finding that only a service ends (`CONSEQUENCES`).
    - High priority is annunciated anew each day that it stands, unless the configuration says otherwise: a zone that
      needs water needs it tomorrow too. Others are not: they stand in the daily digest.
    - What went before anybody saw it stays to be seen for a day, so that one digest shows it; then it is normal by
      itself. ISA-18.2 leaves that to the alarm philosophy. Low priority does not wait at all.

    >>> from parchd.alarms.kinds import AlarmKind
    >>> of = manners(AlarmSetup())
    >>> [of(AlarmKey(kind, "tensiometer/a")).latches for kind in (AlarmKind.AIR_LEAK, AlarmKind.SILENT)]
    [True, False]
    """

    def manner(key: AlarmKey) -> Manner:
        settings, priority = setup.kinds[key.kind], setup.priority(*key)
        usual_us = DAY_US if priority is Priority.HIGH else 0
        repeat_us = usual_us if settings.repeat_s is None else round(settings.repeat_s * US_PER_S)
        return Manner(
            latches=key.kind in _LATCHING,
            repeat_us=repeat_us or None,
            returned_us=0 if priority is Priority.LOW else DAY_US,
            out_of_service=settings.out_of_service,
        )

    return manner


usual_manner = manners(AlarmSetup())
"""How alarms behave unless the configuration says otherwise."""
