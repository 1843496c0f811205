"""How far a tensiometer trails a neighbour when water comes."""

import math

import pytest

from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import rows
from parchd.diagnosis.trail import SPAN_H, Trail, trail
from parchd.diagnosis.trails import NOTE, told
from parchd.testing.courses import Course, loose, rippled, through, watered
from parchd.testing.diagnosing import Watched, instrument

SLOW = FindingKind.SLOW_RESPONSE
OWN, BESIDE = "bus1/north-30", "bus1/north-32"
SOUND = Trail(0, 3.0, -3.0, 1.0, 0.004)
TRAILS = Trail(0, 22.0, 3.0, 1.0, 0.004)


def ground(**changes: float) -> Course:
    return watered(**{"every_days": 8.0, "floor_kpa": 3.0, "growth_per_day": 0.3} | changes)


def hours(course: Course, last: int) -> list[float]:
    return [course(float(hour)) for hour in range(last - SPAN_H + 1, last + 1)]


def measured(own: Course, near: Course) -> list[Trail]:
    looks = (trail(hours(own, last), hours(near, last), last) for last in range(700, 1080, 12))
    return [one for one in looks if one is not None]


@pytest.mark.parametrize("tau_h", [15.0, 32.0, 65.0])
@pytest.mark.parametrize("swing_kpa", [0.2, 2.0])
def test_the_time_constant_of_a_clogged_cup_is_read_off_whatever_the_sun_does(tau_h: float, swing_kpa: float) -> None:
    own = through(ground(growth_per_day=0.27), lambda _: tau_h)

    seen = measured(lambda at: own(at) + swing_kpa * math.cos(at * math.pi / 12.0), ground())

    assert len(seen) == 2
    assert {one.tau_h for one in seen} == {tau_h}
    assert min(one.gain for one in seen) > 1.5
    assert max(one.left for one in seen) < 0.02


@pytest.mark.parametrize("other", [{"growth_per_day": 0.24}, {"floor_kpa": 5.0}, {"late_h": 5.0}])
def test_a_sound_cup_in_other_ground_trails_nothing(other: dict[str, float]) -> None:
    seen = measured(ground(**other), ground())

    assert len(seen) == 2
    assert all(one.gain < -0.5 and one.tau_h <= 6.0 for one in seen)


def test_each_wetting_is_measured_once_and_dry_weeks_tell_nothing() -> None:
    dry = ground(every_days=90.0, growth_per_day=0.03)

    assert [one.hour // 24 for one in measured(ground(), ground())] in ([32, 40], [31, 39])
    assert measured(dry, dry) == []


def test_nothing_is_measured_where_half_is_not_known() -> None:
    gappy = [value if number % 2 else math.nan for number, value in enumerate(hours(ground(), 870))]

    assert trail(hours(ground(), 870), hours(ground(), 870), 870) is not None
    assert trail(gappy, hours(ground(), 870), 870) is None
    assert trail(hours(ground(), 870), gappy, 870) is None


def test_trailing_tells_of_a_clogged_cup_once_it_was_sound() -> None:
    assert told([TRAILS, SOUND, TRAILS]) == [0.0, -3.0, 3.0]


ODD = [TRAILS._replace(slope=0.4), TRAILS._replace(left=0.1), TRAILS._replace(tau_h=10.0), TRAILS._replace(gain=0.5)]


@pytest.mark.parametrize("odd", ODD)
def test_what_moves_less_than_it_did_or_is_no_low_pass_tells_nothing(odd: Trail) -> None:
    assert told([SOUND, odd]) == [-3.0, 0.0]


def test_soil_that_was_ever_slow_must_be_far_slower() -> None:
    was = SOUND._replace(tau_h=10.0)

    assert told([was, TRAILS._replace(tau_h=15.0), TRAILS]) == [-3.0, 0.0, 3.0]


def farm() -> Watched:
    return Watched(
        instrument("north-30", interval_s=1800.0), instrument("north-32", station="post 2", interval_s=1800.0)
    )


def test_a_cup_that_clogs_is_seen_to_trail_however_large_its_daily_swing() -> None:
    own = through(ground(), lambda at: min(max(at / 24.0 - 17.0, 0.0) * 5.0, 30.0))
    swings = rippled(lambda at: own(at) + 2.0 * math.cos(at * math.pi / 12.0))

    watched = farm().run(48 * 24, {OWN: swings, BESIDE: rippled(ground())})

    seen = [Trail(int(hour), *rest) for hour, *rest in rows(watched.standing(OWN).notes[NOTE], len(Trail._fields))]
    assert min(told(seen)[-3:]) > 0.0
    assert seen[-1].tau_h >= 22.0


def test_a_cup_that_lost_contact_is_late_until_water_closes_the_gap_and_is_not_slow() -> None:
    own = loose(ground(), 30 * 24.0, 0.2)

    def lag_h(at: float) -> float:
        return 0.0 if at < 720.0 or ground()(at) < 8.0 else 30.0

    watched = farm().run(75 * 24, {OWN: through(own, lag_h), BESIDE: ground()})

    seen = [Trail(int(hour), *rest) for hour, *rest in rows(watched.standing(OWN).notes[NOTE], len(Trail._fields))]
    assert max(told(seen)) <= 0.0
    assert watched.opened(SLOW) == []
