"""The four busiest months of a farm with 40 tensiometers, most kinds of faults, and two gateways that fail for a day.

One test, so that the months are lived through once. The whole year takes about ten minutes: ``make year``.
"""

import pytest

from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.season import simulate
from parchd.testing.farm_year import GATEWAYS_DOWN, year_plan
from parchd.testing.year_lived import Lived, live
from parchd.testing.year_report import GROWER, faults_told, report, thirsty, untold

SLOW = {
    FindingKind.AIR_LEAK, FindingKind.SLOW_RESPONSE, FindingKind.POOR_CONTACT, FindingKind.ZERO_DRIFT,
    FindingKind.LEVEL_SHIFT,
}  # fmt: skip
"""What the diagnosis may miss, or call by another name: that is its evaluation's matter."""


@pytest.mark.timeout(1500)
def test_four_months_bring_few_messages_and_none_that_needs_a_response_is_missing() -> None:
    lived = live(simulate(year_plan(first_day=105, days=120)))
    print(report(lived))
    calm = lived.per_day(GROWER, emergencies=False)
    urgent = lived.per_day(GROWER, emergencies=True) - calm
    assert max(calm.values()) == 2, "messages that are not urgent, on the worst day"
    assert 1 <= max(urgent.values()) <= 3, "urgent ones, on the worst day"
    assert untold(lived) == [], "alarms that stand in no message within a day"
    _every_morning_on_which_plants_need_water_is_told(lived)
    _every_fault_but_slow_ones_is_told_by_its_name(lived)
    _two_gateways_that_fail_together_are_one_message(lived)


def _every_morning_on_which_plants_need_water_is_told(lived: Lived) -> None:
    dry = thirsty(lived)
    assert len(dry) > 10
    assert [one for one in dry if not one[2]] == []


def _every_fault_but_slow_ones_is_told_by_its_name(lived: Lived) -> None:
    told = faults_told(lived)
    assert {one.fault.kind for one in told if one.letter is None} <= SLOW
    assert len({one.fault.kind for one in told if one.letter is not None}) >= 10


def _two_gateways_that_fail_together_are_one_message(lived: Lived) -> None:
    names = {f"source/{name}" for name in GATEWAYS_DOWN[1]}
    mine = [one for one in faults_told(lived) if one.fault.subject in names]
    assert len(mine) == 2
    assert len({one.letter.time_us for one in mine if one.letter}) == 1
    assert max(one.hours for one in mine) < 6
