"""How alarms of a kind behave once they are raised."""

from collections.abc import Callable
from dataclasses import dataclass

from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.rules import PRIORITIES, AlarmKind
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


MannerOf = Callable[[AlarmKey], Manner]
"""Gives the manner of an alarm."""


def usual_manner(kind: AlarmKind) -> Manner:
    """How alarms of a kind behave unless somebody sets it otherwise.

    - What hides itself latches: a finding that only a service ends (`CONSEQUENCES`).
    - High priority is annunciated anew each day that it stands: a zone that needs water needs it tomorrow too. Others
      are not: they stand in the daily digest.
    - What went before anybody saw it stays to be seen for a day, so that one digest shows it; then it is normal by
      itself. ISA-18.2 leaves that to the alarm philosophy. Low priority does not wait at all.

    >>> usual_manner(AlarmKind.AIR_LEAK).latches, usual_manner(AlarmKind.SILENT).latches
    (True, False)
    """
    finding = FINDING_OF.get(kind)
    priority = PRIORITIES[kind]
    return Manner(
        latches=finding is not None and CONSEQUENCES[finding].trust is Trust.SERVICE,
        repeat_us=DAY_US if priority is Priority.HIGH else None,
        returned_us=0 if priority is Priority.LOW else DAY_US,
    )


MANNERS = {kind: usual_manner(kind) for kind in AlarmKind}


def manner_of(key: AlarmKey) -> Manner:
    """The usual manner of an alarm.

    >>> manner_of(AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")).repeat_us == DAY_US
    True
    """
    return MANNERS[key.kind]
