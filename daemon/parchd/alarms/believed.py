"""Who can be believed: tensiometers that no active fault speaks against."""

from collections.abc import Iterable, Mapping

from parchd.alarms.condition import Condition
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.kinds import DAEMON_KINDS
from parchd.alarms.rules import AlarmKind, FaultRule
from parchd.contract import Flag
from parchd.diagnosis.kinds import CONSEQUENCES


def takes_away_trust(kind: AlarmKind) -> bool:
    """Whether an active alarm of this kind says that readings cannot be believed.

    >>> takes_away_trust(AlarmKind.LOST_WATER), takes_away_trust(AlarmKind.FROST_RISK)
    (True, False)

    A source that cannot be reached is believed until its channels are silent.
    """
    if kind in DAEMON_KINDS:
        return False
    if kind is AlarmKind.SILENT_SOURCE or kind not in FINDING_OF:
        return True
    return CONSEQUENCES[FINDING_OF[kind]].flag is not Flag.PASS


def faults_of(rule: FaultRule, faults: Mapping[AlarmKey, Condition]) -> list[AlarmKind]:
    """The active faults of a tensiometer, those of its whole source too, in the order they were raised."""
    subjects = (f"tensiometer/{rule.tensiometer}", f"source/{rule.channel.partition('/')[0]}")
    return [key.kind for key, one in faults.items() if key.subject in subjects and one.phase.is_active]


def believed(rules: Iterable[FaultRule], faults: Mapping[AlarmKey, Condition]) -> list[str]:
    """Those of these tensiometers that no active fault speaks against."""
    return [rule.tensiometer for rule in rules if not any(takes_away_trust(kind) for kind in faults_of(rule, faults))]
