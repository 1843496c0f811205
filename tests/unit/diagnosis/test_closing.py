"""A gap around a cup closes with a leap, after water has come to its neighbour and not to it."""

import pytest

from parchd.diagnosis.kinds import FindingKind
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument

GAP, SHIFT = FindingKind.POOR_CONTACT, FindingKind.LEVEL_SHIFT
OWN, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"
WATER_H = 6 * 24.0


def farm() -> Watched:
    return Watched(
        instrument("north-30", head_kpa=4.5),
        instrument("north-32", station="post 2", head_kpa=4.5),
        instrument("north-60", head_kpa=7.4),
    )


def ground(late_h: float = 0.0) -> Course:
    return rippled(watered(6.0, floor_kpa=6.0, growth_per_day=0.3, late_h=late_h))


def gapped(closes_h: float) -> Course:
    """Follow the ground by a fifth above 12 kPa, also what it had before the water, until the gap closes."""
    soil, unwetted = ground(), watered(60.0, floor_kpa=6.0, growth_per_day=0.3)

    def feels(hours: float) -> float:
        kpa = soil(hours) if hours >= closes_h else unwetted(min(hours, WATER_H))
        return kpa if kpa < 12.0 else 12.0 + 0.2 * (kpa - 12.0)

    return rippled(feels)


def test_a_gap_that_closes_hours_after_the_water_is_poor_contact() -> None:
    watched = farm().run(WATER_H + 14.0, {OWN: gapped(WATER_H + 9.0), BESIDE: ground(), BELOW: ground(30.0)})

    (found,) = watched.begun(GAP)
    assert found.key.name == "north-30"
    assert hours_us(WATER_H - 24.0) <= found.start_us <= hours_us(WATER_H + 3.0)
    assert watched.begun(SHIFT) == []


def test_a_neighbour_that_is_silent_tells_nothing() -> None:
    three = Watched(
        instrument("north-30", head_kpa=4.5),
        instrument("north-31", station="post 2", head_kpa=4.5),
        instrument("north-32", station="post 3", head_kpa=4.5),
    )
    curves = {OWN: gapped(WATER_H + 9.0), BESIDE: ground()}

    three.run(WATER_H + 14.0, curves | {"bus1/north-31": lambda hours: ground()(hours) if hours < 140.0 else None})

    (found,) = three.begun(GAP)
    assert found.start_us <= hours_us(WATER_H + 3.0)
    assert all(fact.value == fact.value for fact in found.facts)


def test_further_down_water_may_come_days_later_and_a_leap_tells_of_no_gap() -> None:
    deep = Watched(
        instrument("north-30", head_kpa=4.5),
        instrument("north-60", head_kpa=7.4),
        instrument("north-62", station="post 2", head_kpa=7.4),
    )
    own, beside = gapped(WATER_H + 9.0), ground()

    deep.run(WATER_H + 14.0, {OWN: ground(), BELOW: own, "bus1/north-62": beside})

    assert deep.begun(GAP) == []


@pytest.mark.parametrize(
    ("own", "at_h"),
    [
        (ground(), WATER_H + 9.0),
        (ground(), WATER_H - 9.0),
        (rippled(watered(6.0, floor_kpa=10.0, growth_per_day=0.2)), WATER_H + 9.0),
    ],
)
def test_a_leap_of_what_goes_with_its_neighbour_is_none(own: Course, at_h: float) -> None:
    leapt = shifted(own, at_h, -3.6)

    watched = farm().run(at_h + 8.0, {OWN: leapt, BESIDE: ground(), BELOW: ground(30.0)})

    assert watched.begun(GAP) == []


@pytest.mark.parametrize(("wetter_kpa", "told"), [(9.0, [(GAP, "north-30")]), (4.0, [(SHIFT, "north-30")])])
def test_a_gap_closes_when_the_ground_is_a_fifth_wetter_than_where_it_opened(
    wetter_kpa: float, told: list[tuple[FindingKind, str]]
) -> None:
    def wetting(hours: float) -> float:
        return 40.0 - wetter_kpa * min(max(0.0, hours - WATER_H + 36.0) / 36.0, 1.0)

    def loose(hours: float) -> float:
        return 27.0 if hours < WATER_H else 21.0

    watched = farm().run(WATER_H + 5.0, {OWN: rippled(loose), BESIDE: wetting, BELOW: lambda _: 28.0})

    assert watched.opened(GAP, SHIFT) == told


def test_a_known_gap_is_not_told_again_and_its_leap_is_no_shift() -> None:
    leaps = gapped(WATER_H + 9.0)
    again_h = WATER_H + 6 * 24.0

    def twice(hours: float) -> float:
        return leaps(hours) if hours < again_h else leaps(hours - 6 * 24.0)

    watched = farm().run(again_h + 14.0, {OWN: twice, BESIDE: ground(), BELOW: ground(30.0)})

    assert len(watched.begun(GAP)) == 1
    assert watched.begun(SHIFT) == []
