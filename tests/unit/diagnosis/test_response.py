"""Cups that answer slowly, and ground that does."""

import math

import pytest

from parchd.diagnosis import falls_seen
from parchd.diagnosis.falls_seen import NOTE as FALLS
from parchd.diagnosis.falls_seen import Seen
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.response import slowed
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.wane import typical, wane
from parchd.testing.courses import Course, rippled, shifted, through, watered
from parchd.testing.diagnosing import BEGIN_US, Watched, instrument

SLOW = FindingKind.SLOW_RESPONSE
OWN, BESIDE = "bus1/north-30", "bus1/north-32"


def ground(**changes: float) -> Course:
    return rippled(watered(**{"every_days": 7.0, "floor_kpa": 3.0, "growth_per_day": 0.35} | changes))


def clogging(course: Course, from_day: float = 25.0, most_h: float = 30.0, within_days: float = 20.0) -> Course:
    return through(course, lambda hours: most_h * min(max(hours / 24.0 - from_day, 0.0) / within_days, 1.0))


QUICK = [Seen(at, 4.0, 3.0, 30.0, 4.0, 3.0) for at in (0, 100, 200, 300, 400)]


def farm(*, beside: bool = True) -> Watched:
    north = instrument("north-30", interval_s=1800.0)
    return Watched(north, instrument("north-32", station="post 2", interval_s=1800.0)) if beside else Watched(north)


@pytest.mark.parametrize("tau_h", [0.0, 2.0, 12.0, 40.0])
def test_a_fall_tells_the_time_constant_of_the_cup(tau_h: float) -> None:
    course = through(watered(10.0, 3.0, 0.35, swing_kpa=0.0, falls_within_h=0.2), lambda _: tau_h)
    watched = farm(beside=False).run(17 * 24, {OWN: course})
    top = BEGIN_US // HOUR_US + 240

    found = wane(watched.standing(OWN).hours, top - 12, top + 12, top + 108)

    assert found is not None
    assert abs(found.begin - top) <= 3
    assert found.relax_h == pytest.approx(max(tau_h, 0.8), rel=0.3, abs=1.0)


def test_a_fall_after_some_hours_of_slow_decline_begins_where_that_ends() -> None:
    def course(hours: float) -> float:
        if hours < 250.0:
            return 28.4 - 0.15 * max(hours - 240.0, 0.0)
        return 10.0 + 16.9 * math.exp(-(hours - 250.0) / 3.0)

    watched = farm(beside=False).run(17 * 24, {OWN: course})
    top = BEGIN_US // HOUR_US + 240

    found = wane(watched.standing(OWN).hours, top - 12, top + 12, top + 108)

    assert found is not None
    assert found.relax_h == pytest.approx(3.0, rel=0.3)


def test_a_daily_swing_is_no_fall() -> None:
    course = watered(60.0, 10.0, 0.02, swing_kpa=4.0)
    hours = farm(beside=False).run(12 * 24, {OWN: course}).standing(OWN).hours
    begin = BEGIN_US // HOUR_US

    assert all(wane(hours, first, first + 12, first + 108) is None for first in range(begin, begin + 150, 12))


def test_what_a_cup_can_do_is_told_by_its_fast_falls() -> None:
    assert typical([9.0, 2.0, 3.0]) == 3.0
    assert typical([4.0]) == 4.0
    assert typical([14.0]) != typical([14.0])


def test_a_cup_that_clogs_beside_one_that_does_not_is_slow() -> None:
    watched = farm().run(75 * 24, {OWN: clogging(ground()), BESIDE: ground(floor_kpa=3.5)})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def test_a_cup_that_clogs_alone_is_slow_by_its_own_past() -> None:
    watched = farm(beside=False).run(80 * 24, {OWN: clogging(ground())})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def often_watered() -> Course:
    """Too often for what the weighing of months could have learnt when the test ends."""
    return ground(every_days=4.0, growth_per_day=0.6)


def from_day_18(before_h: float, after_h: float) -> Course:
    return through(often_watered(), lambda hours: before_h if hours < 18.0 * 24.0 else after_h)


def from_day_26(before_h: float, after_h: float) -> Course:
    return through(often_watered(), lambda hours: before_h if hours < 26.0 * 24.0 else after_h)


def test_two_wettings_in_which_it_is_far_slower_beside_its_neighbour_are_enough() -> None:
    watched = farm().run(37 * 24 + 12, {OWN: from_day_26(0.0, 30.0), BESIDE: often_watered()})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def test_a_neighbour_whose_level_has_shifted_tells_how_fast_water_comes() -> None:
    beside = shifted(often_watered(), 60.0, 8.0)
    watched = farm().run(37 * 24 + 12, {OWN: from_day_26(0.0, 30.0), BESIDE: beside})

    assert set(watched.opened()) == {(FindingKind.LEVEL_SHIFT, "north-32"), (SLOW, "north-30")}


def test_a_neighbour_that_is_silent_cannot_be_asked() -> None:
    def silent(hours: float) -> float:
        return often_watered()(hours) if hours < 20.0 * 24.0 else math.nan

    watched = farm().run(37 * 24 + 12, {OWN: from_day_26(0.0, 30.0), BESIDE: silent})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def test_a_cup_in_slow_ground_is_judged_by_how_much_slower_than_its_neighbour_it_was_before() -> None:
    watched = farm().run(34 * 24, {OWN: from_day_18(5.0, 30.0), BESIDE: often_watered()})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def test_three_falls_that_are_far_slower_than_ever_are_enough_where_nobody_can_be_asked() -> None:
    watched = farm(beside=False).run(34 * 24, {OWN: from_day_18(2.0, 30.0)})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]


def test_falls_that_were_about_as_slow_now_and_then_before_tell_of_the_ground() -> None:
    def tau_h(hours: float) -> float:
        return 30.0 if hours < 11.0 * 24.0 or hours >= 18.0 * 24.0 else 2.0

    watched = farm(beside=False).run(34 * 24, {OWN: through(often_watered(), tau_h)})

    assert watched.opened(SLOW) == []


def test_falls_that_were_about_as_slow_before_tell_of_the_ground_though_its_neighbour_became_quick() -> None:
    def tau_h(hours: float) -> float:
        return 30.0 if hours < 11.0 * 24.0 or hours >= 18.0 * 24.0 else 2.0

    beside = through(often_watered(), lambda hours: 30.0 if hours < 11.0 * 24.0 else 0.0)
    watched = farm().run(29 * 24 + 12, {OWN: through(often_watered(), tau_h), BESIDE: beside})

    assert watched.opened(SLOW) == []


def test_two_falls_that_took_twice_as_long_as_all_but_one_before_are_enough() -> None:
    slow = [Seen(at, 15.0, 5.0, 30.0, 4.0, 3.0) for at in (500, 600)]

    assert slowed([*QUICK, *slow]) == slow
    assert slowed([*QUICK, QUICK[0]._replace(relax_h=9.0), *slow]) == slow
    assert slowed([*QUICK[1:], *slow]) == []
    assert slowed([*QUICK, slow[0]]) == []
    assert slowed([*QUICK, *slow, QUICK[0]._replace(begin=700)]) == []


@pytest.mark.parametrize(
    ("relax_h", "others_h", "floor_kpa"),
    [(15.0, 8.0, 4.0), (15.0, 0.0, 4.0), (15.0, 5.0, 16.0), (7.0, 3.0, 4.0)],
    ids=["slow around", "dry around", "stopped short", "a little slower"],
)
def test_falls_that_something_else_explains_are_no_clogged_cups(
    relax_h: float, others_h: float, floor_kpa: float
) -> None:
    slow = [Seen(at, relax_h, others_h, 30.0, floor_kpa, 3.0) for at in (500, 600, 700)]

    assert slowed([*QUICK, *slow]) == []


@pytest.mark.parametrize(("known", "named"), [(FindingKind.DROP_OUTS, [(SLOW, "north-30")]), (None, [])])
def test_falls_beside_dips_of_other_channels_count_where_the_wiring_is_known_to_make_them(
    known: FindingKind | None, named: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(falls_seen, "someone_was_there", lambda *_: True)
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is known)

    assert farm(beside=False).run(34 * 24, {OWN: from_day_18(2.0, 30.0)}).opened(SLOW) == named


def test_falls_that_are_a_little_slower_than_ever_are_no_clogged_cups() -> None:
    watched = farm(beside=False).run(60 * 24, {OWN: from_day_18(7.0, 12.0)})

    assert watched.opened(SLOW) == []


def test_slow_falls_that_a_sound_neighbour_took_no_part_in_are_no_front_of_water() -> None:
    """Cooler days and water from elsewhere make ground wetter by and by."""
    watched = farm().run(80 * 24, {OWN: clogging(ground()), BESIDE: ground(floor_kpa=4.0, growth_per_day=0.04)})

    assert watched.opened(SLOW) == []


def test_a_fall_in_daily_humps_is_one_fall() -> None:
    every_8_h = (12.0, 11.5, 11.6, 12.5, 11.6, 11.4, 12.2, 11.0, 10.3, 10.7, 9.3, 8.4, 8.6, 7.5, 6.9, 7.4, 7.0)

    def humped(hours: float) -> float:
        at = min(max(hours / 8.0 - 30.0, 0.0), 15.99)
        return every_8_h[int(at)] + at % 1.0 * (every_8_h[int(at) + 1] - every_8_h[int(at)])

    watched = farm(beside=False).run(20 * 24, {OWN: humped})

    kept = watched.standing(OWN).notes[FALLS]
    assert isinstance(kept, list)
    assert len(kept) == len(Seen._fields)


def test_a_slow_fall_with_a_rest_at_night_is_one_fall_beside_one_of_its_neighbour() -> None:
    def own(hours: float) -> float:
        since = hours - 240.0
        if since < 24.0:
            return 29.5 if since < 0.0 else max(30.0 - since, 24.0 + 0.04 * since)
        return 3.0 + 22.0 * math.exp((24.0 - since) / 25.0)

    beside = watered(every_days=10.0, growth_per_day=0.23, falls_within_h=4.0)
    watched = farm().run(20 * 24, {OWN: own, BESIDE: beside})

    kept = watched.standing(OWN).notes[FALLS]
    assert isinstance(kept, list)
    assert len(kept) == len(Seen._fields)


def test_a_cup_whose_neighbour_slows_down_with_it_is_sound() -> None:
    """Rain that soaks in for days slows both."""
    watched = farm().run(75 * 24, {OWN: clogging(ground()), BESIDE: clogging(ground(floor_kpa=3.5))})

    assert watched.opened(SLOW) == []


def test_ground_that_always_answered_slowly_is_sound() -> None:
    watched = farm().run(60 * 24, {OWN: clogging(ground(), -60.0, 14.0), BESIDE: ground(floor_kpa=3.5)})

    assert watched.opened(SLOW) == []


def test_sound_cups_stay_sound_through_swings_and_water() -> None:
    watched = farm().run(75 * 24, {OWN: ground(swing_kpa=3.0), BESIDE: ground(every_days=5.0)})

    assert watched.opened(SLOW) == []


def test_a_cup_that_was_cleaned_is_believed_after_two_fast_falls() -> None:
    def cleaned(hours: float) -> float:
        return 30.0 * min(max(hours / 24.0 - 20.0, 0.0) / 10.0, 1.0) if hours < 70.0 * 24.0 else 0.0

    watched = farm().run(100 * 24, {OWN: through(ground(), cleaned), BESIDE: ground(floor_kpa=3.5)})

    assert watched.opened(SLOW) == [(SLOW, "north-30")]
    assert len(watched.ended(SLOW)) == 1
