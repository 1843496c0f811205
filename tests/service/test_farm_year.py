"""The four busiest months of a farm with 40 tensiometers, most kinds of faults, and two gateways that fail for a day.

The whole year takes about ten minutes: ``make year``.
"""

from functools import cache

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
pytestmark = pytest.mark.timeout(1500)


@cache
def summer() -> Lived:
    lived = live(simulate(year_plan(first_day=105, days=120)))
    print(report(lived))
    return lived


def test_nobody_gets_more_than_two_messages_a_day_that_are_not_urgent() -> None:
    assert max(summer().per_day(GROWER, emergencies=False).values()) == 2


def test_urgent_messages_are_few_enough_to_be_read() -> None:
    urgent = summer().per_day(GROWER, emergencies=True) - summer().per_day(GROWER, emergencies=False)
    assert 1 <= max(urgent.values()) <= 3


def test_every_alarm_that_needs_a_response_stands_in_a_message_within_a_day() -> None:
    assert untold(summer()) == []


def test_every_morning_on_which_plants_need_water_is_told() -> None:
    dry = thirsty(summer())
    assert len(dry) > 10
    assert [one for one in dry if not one[2]] == []


def test_every_fault_but_slow_ones_is_told_by_its_name() -> None:
    told = faults_told(summer())
    assert {one.fault.kind for one in told if one.letter is None} <= SLOW
    assert len({one.fault.kind for one in told if one.letter is not None}) >= 10


def test_two_gateways_that_fail_together_are_one_message() -> None:
    names = {f"source/{name}" for name in GATEWAYS_DOWN[1]}
    mine = [one for one in faults_told(summer()) if one.fault.subject in names]
    assert len(mine) == 2
    assert len({one.letter.time_us for one in mine if one.letter}) == 1
    assert max(one.hours for one in mine) < 6
