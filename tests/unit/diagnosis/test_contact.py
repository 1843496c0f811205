"""Cups in poor contact, and stations that dry in their own way."""

import pytest

from parchd.diagnosis.kinds import FindingKind
from parchd.testing.courses import Course, loose, rippled, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument

POOR = FindingKind.POOR_CONTACT
OWN, BESIDE = "bus1/north-30", "bus1/north-32"
LOOSE_DAY = 32


def ground(**changes: float) -> Course:
    return watered(**{"every_days": 10.0, "floor_kpa": 4.0, "growth_per_day": 0.25} | changes)


def farm(*, beside: bool = True) -> Watched:
    north = instrument("north-30", interval_s=3600.0)
    return Watched(north, instrument("north-32", station="post 2", interval_s=3600.0)) if beside else Watched(north)


@pytest.mark.parametrize("share", [0.15, 0.25])
def test_a_cup_that_follows_only_in_part_what_it_used_to_follow_is_in_poor_contact(share: float) -> None:
    course = rippled(loose(ground(), LOOSE_DAY * 24.0, share))

    watched = farm().run(65 * 24, {OWN: course, BESIDE: rippled(ground(floor_kpa=4.5))})

    (found,) = watched.begun(POOR)
    assert found.key.name == "north-30"
    assert found.start_us >= hours_us((LOOSE_DAY - 10) * 24.0)


def test_a_station_that_always_dried_by_half_is_sound() -> None:
    watched = farm().run(80 * 24, {OWN: rippled(ground(growth_per_day=0.13)), BESIDE: rippled(ground())})

    assert watched.opened(POOR) == []


def test_one_cycle_in_which_it_got_more_water_is_no_poor_contact() -> None:
    def moist(hours: float) -> float:
        return min(ground()(hours), 22.0) if 40 * 24 <= hours < 50 * 24 else ground()(hours)

    watched = farm().run(80 * 24, {OWN: rippled(moist), BESIDE: rippled(ground(floor_kpa=4.5))})

    assert watched.opened(POOR) == []


def test_without_a_neighbour_at_its_depth_nothing_is_said() -> None:
    watched = farm(beside=False).run(70 * 24, {OWN: rippled(loose(ground(), LOOSE_DAY * 24.0, 0.2))})

    assert watched.opened(POOR) == []


def test_a_cup_that_follows_again_is_believed_again() -> None:
    poor, sound = loose(ground(), LOOSE_DAY * 24.0, 0.25), ground()

    watched = farm()
    watched.run(95 * 24, {
        OWN: rippled(lambda hours: poor(hours) if hours < 60 * 24 else sound(hours)),
        BESIDE: rippled(ground(floor_kpa=4.5)),
    })  # fmt: skip

    assert watched.opened(POOR) == [(POOR, "north-30")]
    assert len(watched.ended(POOR)) == 1
