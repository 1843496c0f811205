"""Who speaks for a zone while one of its tensiometers cannot be believed."""

from collections.abc import Mapping

from parchd.alarms.believed import believed, takes_away_trust
from parchd.alarms.condition import Condition
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import ALARM_OF
from parchd.alarms.rules import FaultRule
from parchd.contract import JsonValue, Place
from parchd.diagnosis.findings import Finding


def speakers(
    rules: tuple[FaultRule, ...],
    places: Mapping[str, Place],
    faults: Mapping[AlarmKey, Condition],
    finding: Finding,
) -> dict[str, JsonValue]:
    """Give who is believed in the zones that a finding touches, and of how many; nothing where it takes no trust away.

    Args:
        rules: of all tensiometers of the site.
        places: by tensiometer.
        faults: alarms about tensiometers and sources as they are now.
    """
    if not takes_away_trust(ALARM_OF[finding.key.kind]):
        return {}
    names = finding.others if finding.key.subject.startswith("source/") else (finding.key.name,)
    zones = {places[name].zone for name in names if name in places}
    of_zones = [rule for rule in rules if rule.tensiometer in places and places[rule.tensiometer].zone in zones]
    heard: list[JsonValue] = [*believed(of_zones, faults)]
    return {"believed": heard, "of": len(of_zones), "zones": [*sorted(zones)]}
