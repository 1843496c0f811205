"""Leaps: what only a transducer can do, told before the soil goes on to something else."""

import math

import pytest

from parchd.contract import Cause, Reading
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.hours import hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap import leap_kpa
from parchd.diagnosis.leap_in_doubt import NOTE, SEASON_H, doubt, leap_in_doubt, leap_in_doubt_kpa, look_back
from parchd.diagnosis.verdict import Look
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Watched, chance, hours_us, instrument, sent

SHIFT, LOST = FindingKind.LEVEL_SHIFT, FindingKind.LOST_WATER
NORTH, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"
AT_H, HEAD_KPA = 90.0, 4.5


def farm(interval_s: float = 900.0) -> Watched:
    return Watched(
        instrument("north-30", interval_s=interval_s, head_kpa=HEAD_KPA),
        instrument("north-32", station="post 2", interval_s=interval_s, head_kpa=HEAD_KPA),
        instrument("north-60", interval_s=interval_s, head_kpa=7.4),
    )


def ground(every_days: float = 4.0, **changes: float) -> Course:
    return rippled(watered(**{"every_days": every_days, "growth_per_day": 0.2, "floor_kpa": 6.0} | changes))


def dry() -> Course:
    return ground(40.0, growth_per_day=0.08, floor_kpa=8.0)


@pytest.mark.parametrize(("led_kpa", "told"), [(0.5, 1), (9.0, 0)])
def test_a_leap_at_the_end_of_a_fall_may_be_water(led_kpa: float, told: int) -> None:
    """Water came to its neighbour half a day before."""

    def led(hours: float) -> float:
        return 24.0 - led_kpa * min(max(0.0, hours - AT_H + 3.5) / 3.5, 1.0)

    near = {BESIDE: lambda hours: 20.0 if hours < AT_H - 11.0 else 1.5, BELOW: dry()}
    watched = farm().run(AT_H + 5.0, {NORTH: shifted(led, AT_H, -5.0), **near})

    assert len(watched.begun(SHIFT)) == told


@pytest.mark.parametrize("by_kpa", [-6.0, 7.0])
def test_a_leap_is_told_within_hours_whatever_the_soil_does_next(by_kpa: float) -> None:
    wet = {NORTH: shifted(ground(), AT_H, by_kpa), BESIDE: ground(), BELOW: ground(late_h=12.0)}

    watched = farm().run(5 * 24, wet)

    (found,) = watched.begun(SHIFT)
    assert found.key.name == "north-30"
    assert found.found_us <= hours_us(AT_H + 4.0)


@pytest.mark.parametrize(
    ("beside_kpa", "late_h", "daily", "is_told"),
    [(0.6, 0.0, False, False), (0.6, 1.0, False, False), (1.2, 0.0, False, True), (0.6, 0.0, True, True)],
)
def test_a_leap_in_the_hours_in_which_a_neighbour_in_wet_ground_lost_half_of_its_tension_may_be_water(
    beside_kpa: float, late_h: float, daily: bool, is_told: bool
) -> None:
    """Of 1.3 kPa no kilopascals can go."""

    def wet(hours: float) -> float:
        since_h = hours - AT_H - late_h
        return beside_kpa if (since_h % 24.0 < 12.0 if daily else since_h >= 0.0) else 1.3

    watched = farm().run(AT_H + 5.0, {NORTH: shifted(dry(), AT_H, -5.5), BESIDE: rippled(wet), BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")] * is_told


def test_a_leap_is_told_while_the_day_leads_neighbours_the_same_way() -> None:
    at_h = 4 * 24 + 2.0
    swinging = ground(40.0, growth_per_day=0.02, floor_kpa=20.0, swing_kpa=4.0)

    watched = farm().run(at_h + 5.0, {NORTH: shifted(dry(), at_h, -5.5), BESIDE: swinging, BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


def test_a_leap_is_told_beside_a_neighbour_that_falls_every_night() -> None:
    at_h = 6 * 24 + 5.0

    def nightly(hours: float) -> float:
        return 14.0 + 2.0 * math.exp(hours / 120.0) * math.cos(2.0 * math.pi * (hours - 18.0) / 24.0)

    watched = farm().run(at_h + 5.0, {NORTH: shifted(dry(), at_h, -5.5), BESIDE: dry(), BELOW: rippled(nightly)})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


def test_a_leap_between_two_samples_half_an_hour_apart_is_no_water_where_nobody_got_any() -> None:
    watched = farm(1800.0).run(AT_H + 5.0, {NORTH: shifted(dry(), AT_H, -5.0), BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


def test_a_neighbour_whose_wire_is_broken_cannot_tell_that_no_water_came() -> None:
    def dead(_: float) -> Reading:
        return sent(0.1, None, Cause.OPEN_CIRCUIT)

    watched = farm(1800.0).run(AT_H + 5.0, {NORTH: shifted(dry(), AT_H, -5.0), BESIDE: dead, BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_a_fall_that_only_becomes_faster_is_no_leap() -> None:
    def falling(hours: float) -> float:
        since = max(0.0, hours - AT_H)
        return max(12.0, 60.0 - 5.2 * since - 1.55 * min(max(since - 4.0, 0.0), 2.0))

    watched = farm(3600.0).run(6 * 24, {NORTH: rippled(falling), BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_a_deep_one_that_leaps_after_the_water_has_passed_is_shifted() -> None:
    below = shifted(ground(late_h=8.0), 4 * 24 + 8.0 + 13.0, -5.0)

    watched = farm(3600.0).run(6 * 24, {NORTH: ground(), BESIDE: ground(), BELOW: below})

    assert watched.opened(SHIFT) == [(SHIFT, "north-60")]


@pytest.mark.parametrize("within_h", [0.8, 1.5])
def test_dry_soil_that_water_fills_between_two_samples_trails_and_is_no_leap(within_h: float) -> None:
    def filled(hours: float) -> float:
        left = math.exp(-max(0.0, hours - AT_H) / within_h)
        return 1.0 + (dry()(hours) - 1.0) * left

    watched = farm(3600.0).run(6 * 24, {NORTH: filled, BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_one_that_leapt_to_where_an_empty_tube_reads_and_dries_on_is_shifted() -> None:
    course = ground(12.0, growth_per_day=0.12, floor_kpa=5.0)
    off_kpa = -HEAD_KPA - course(AT_H) - 0.3

    watched = farm().run(14 * 24, {NORTH: shifted(course, AT_H, off_kpa), BESIDE: course, BELOW: dry()})

    assert LOST not in watched.still_open()
    assert SHIFT in watched.still_open()


def test_one_that_leapt_there_long_after_it_began_to_fall_is_shifted() -> None:
    at_h = 114.0

    def wetted_slowly(hours: float) -> float:
        return 36.0 - min(30.0, max(0.0, hours - 70.0)) + 0.1 * max(0.0, hours - at_h - 6.0)

    course = rippled(wetted_slowly)
    off_kpa = -HEAD_KPA - course(at_h) + 0.3

    watched = farm().run(14 * 24, {NORTH: shifted(course, at_h, off_kpa), BESIDE: dry(), BELOW: dry()})

    assert LOST not in watched.still_open()
    assert SHIFT in watched.still_open()


def test_a_tube_that_lost_its_water_stays_so_however_its_neighbours_dry() -> None:
    course = ground(12.0, growth_per_day=0.12, floor_kpa=5.0)

    def empty(hours: float) -> float:
        warm_kpa = 0.5 * math.cos(2.0 * math.pi * (hours - 20.0) / 24.0)
        return course(hours) if hours < AT_H else -HEAD_KPA + 1.2 + warm_kpa

    watched = farm().run(14 * 24, {NORTH: empty, BESIDE: course, BELOW: dry()})

    assert watched.still_open() == {LOST}


def test_a_shifted_one_that_passes_what_an_empty_tube_reads_has_its_water() -> None:
    slow = ground(40.0, growth_per_day=0.04, floor_kpa=4.0)
    beside = ground(40.0, growth_per_day=0.08, floor_kpa=6.0)

    watched = farm().run(25 * 24, {NORTH: shifted(slow, AT_H, -14.0), BESIDE: beside, BELOW: dry()})

    assert watched.still_open() == {SHIFT}


def test_hours_that_a_clock_left_out_are_no_leap() -> None:
    """Its clock was set back by five hours: what came meanwhile is passed over, for it is not newer."""
    steep = ground(40.0, growth_per_day=0.6, floor_kpa=3.0)
    lost_h = 5.0
    watched = Watched(
        *(instrument(name, head_kpa=HEAD_KPA, interval_s=900.0) for name in ("north-30", "north-60")),
        lag_s=lambda hours: 1.0 if hours < AT_H else 3600.0 * lost_h,
    )

    watched.run(AT_H + 12.0, {NORTH: lambda h: steep(h if h < AT_H else h + lost_h), BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_a_tube_that_was_filled_up_again_was_empty_and_is_not_shifted() -> None:
    course = rippled(lambda hours: 8.0 + 0.08 * hours + 1.5 * math.cos(2.0 * math.pi * (hours - 18.0) / 24.0))

    def refilled(hours: float) -> float:
        return -HEAD_KPA + 0.01 * math.sin(hours) if AT_H <= hours < AT_H + 11.0 else course(hours)

    watched = farm().run(16 * 24, {NORTH: refilled, BESIDE: course, BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_a_leap_after_which_it_goes_on_falling_is_a_gap_that_closes_and_no_shift() -> None:
    def closing(hours: float) -> float:
        since = max(0.0, hours - AT_H)
        return dry()(hours) - (5.0 + 5.0 * (1.0 - math.exp(-since / 6.0)) if hours >= AT_H else 0.0)

    watched = farm().run(AT_H + 30.0, {NORTH: closing, BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == []


def test_a_leap_is_told_in_what_came_all_at_once_after_the_line_had_been_down() -> None:
    back_h = AT_H + 20.0
    watched = Watched(*farm().setup.instruments, lag_s=lambda hours: 3600.0 * max(0.0, back_h - hours) + 1.0)

    watched.run(AT_H + 5.0, {NORTH: shifted(dry(), AT_H, -5.0), BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


@pytest.mark.parametrize(
    ("beside_kpa", "fell_kpa", "is_told"), [(9.0, 20.0, True), (3.0, 20.0, False), (9.0, 17.0, False)]
)
def test_a_leap_that_stands_still_in_wetter_ground_than_water_came_through_is_shifted(
    beside_kpa: float, fell_kpa: float, is_told: bool
) -> None:
    """A gap that closes would lead to no less than moist ground has."""

    def wetted(hours: float) -> float:
        left = math.exp(-max(0.0, hours - AT_H + 6.0) / 2.0)
        return beside_kpa + (25.0 - beside_kpa) * left

    def standing(hours: float) -> float:
        return 18.0 + 0.05 * hours - (fell_kpa if hours >= AT_H else 0.0)

    watched = farm().run(AT_H + 4.0, {NORTH: rippled(standing), BESIDE: rippled(wetted), BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")] * is_told


def test_a_fall_while_the_depth_below_rises_as_far_is_an_exchange_and_no_shift() -> None:
    def rising(hours: float) -> float:
        since = hours - AT_H
        return dry()(hours) + (3.4 + min(2.0, 0.7 * since) if since >= 0.0 else 0.0)

    watched = farm().run(AT_H + 5.0, {NORTH: shifted(dry(), AT_H, -3.6), BESIDE: dry(), BELOW: rising})

    assert watched.opened(SHIFT) == []


def test_a_leap_that_may_have_been_water_is_kept_in_mind_until_it_comes_back() -> None:
    def looked(back_kpa: float) -> float:
        def leapt(hours: float) -> float:
            return 20.0 if hours < AT_H else 6.0 + (back_kpa if hours > AT_H + 6.0 else 0.0)

        seen = farm().run(AT_H + 20.0, {NORTH: rippled(leapt), BESIDE: dry(), BELOW: dry()})
        standing = seen.state.standings[NORTH]
        hour = standing.hours.end - 1
        look = Look(seen.state, standing, hour, seen.state.neighbours[NORTH], standing.hours.newest())
        doubt(look, hour - 19, -14.0)
        return leap_in_doubt_kpa(look, -1.0)

    assert looked(0.0) == -14.0
    assert looked(9.0) == 0.0


def test_a_sample_that_stood_out_amid_a_steep_rise_is_no_leap_when_it_is_over() -> None:
    """Gas in a tube follows the warmth of a day by more than a kilopascal an hour."""
    at_h = 81.0

    def rising(hours: float) -> float:
        swing = 5.0 * math.sin(2.0 * math.pi * (hours % 24.0 - 9.0) / 24.0)
        return 30.0 + swing - (2.2 if hours == at_h - 0.25 else 0.0)

    standing = farm().run(4 * 24, {NORTH: rippled(rising)}).standing(NORTH)

    assert math.isnan(leap_kpa(standing, hour_of(hours_us(at_h))))


def test_water_that_has_come_to_rest_takes_nothing_off_a_leap() -> None:
    def rested(hours: float) -> float:
        fell_kpa = min(max(0.0, 3.0 * (hours - AT_H + 8.0)), 15.0)
        return 20.0 - fell_kpa + 0.2 * max(0.0, hours - AT_H + 2.0) - (4.0 if hours >= AT_H else 0.0)

    standing = farm().run(AT_H + 4.0, {NORTH: rippled(rested)}).standing(NORTH)

    assert leap_kpa(standing, hour_of(hours_us(AT_H))) == pytest.approx(-4.0, abs=0.5)


def test_a_leap_in_doubt_that_stayed_is_known_when_its_hours_are_forgotten_and_one_that_did_not_is_not() -> None:
    def known(back_kpa: float, *, lost: bool = False) -> float:
        def leapt(hours: float) -> float:
            return 20.0 if hours < AT_H else 6.0 + (back_kpa if hours > AT_H + 6.0 else 0.0)

        seen = farm().run(AT_H + 20.0, {NORTH: rippled(leapt)})
        standing = seen.standing(NORTH)
        look = Look(seen.state, standing, standing.hours.end - 1, seen.state.neighbours[NORTH], standing.hours.newest())
        doubt(look, hour_of(hours_us(AT_H)), -14.0)
        if lost:
            key = FindingKey(LOST, look.instrument.subject)
            look.state.findings[key] = Finding(key, look.now_us, look.now_us, 0.9)
        look_back(look)
        standing.hours.clear()
        look.hour += 60 * 24
        return leap_in_doubt_kpa(look, -1.0, SEASON_H) if leap_in_doubt(look, -1.0) is None else 1.0

    assert known(0.0) == -14.0
    assert known(9.0) == 0.0
    assert known(0.0, lost=True) == 0.0


@pytest.mark.parametrize(("shakes_kpa", "told"), [(0.0, [(SHIFT, "north-30")]), (2.5, [])])
def test_noise_that_begins_leaps_but_does_not_stand(shakes_kpa: float, told: list[tuple[FindingKind, str]]) -> None:
    """The hours after it end where the leap led, by chance."""

    def own(hours: float) -> float:
        sample = round(4 * (hours - AT_H))
        shaken = shakes_kpa * (1.0 if sample % 2 else -1.0) if sample > 0 and sample % 4 != 3 else 0.0
        return dry()(hours) + (4.0 if sample >= 0 else 0.0) + shaken

    watched = farm().run(AT_H + 4.0, {NORTH: own, BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == told


def test_a_leap_up_is_told_beside_a_neighbour_whose_fall_slows_down() -> None:
    """It moves less and less, but it does not rise with it."""

    def falling(from_kpa: float, within_h: float) -> Course:
        return rippled(lambda hours: 5.0 + from_kpa * math.exp(-max(0.0, hours - AT_H + 5.5) / within_h))

    watched = farm().run(
        AT_H + 4.0,
        {NORTH: shifted(falling(15.0, 4.0), AT_H, 11.0), BESIDE: falling(60.0, 4.0), BELOW: dry()},
    )

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


@pytest.mark.parametrize(("of_kpa", "in_doubt"), [(30.0, True), (0.5, False)])
def test_a_leap_down_when_water_has_only_begun_to_lead_the_one_above_down_is_kept_in_mind(
    of_kpa: float, in_doubt: bool
) -> None:
    def above(hours: float) -> float:
        since_h = max(0.0, hours - AT_H + 0.5) / 1.5
        return 6.0 + of_kpa * (1.0 + since_h) * math.exp(-since_h)

    off_kpa = -dry()(AT_H)

    watched = farm().run(AT_H + 4.0, {NORTH: rippled(above), BESIDE: dry(), BELOW: shifted(dry(), AT_H, off_kpa)})

    assert watched.opened(SHIFT) == [(SHIFT, "north-60")] * (not in_doubt)
    assert (NOTE in watched.standing(BELOW).notes) is in_doubt


def test_a_leap_is_told_beside_one_hour_that_is_silent() -> None:
    def silent(hours: float) -> float | None:
        return None if AT_H - 1.0 <= hours < AT_H else shifted(dry(), AT_H - 0.5, -8.0)(hours)

    watched = farm(3600.0).run(AT_H + 4.0, {NORTH: silent, BESIDE: dry(), BELOW: dry()})

    (found,) = watched.begun(SHIFT)
    assert found.facts[1].what == "from"
    assert found.facts[1].value == pytest.approx(dry()(AT_H - 2.0), abs=0.3)


def test_what_dries_on_as_fast_as_before_it_leapt_stands_still_where_it_landed() -> None:
    """Warmth led a neighbour down until then, as it would if a little water had come."""

    def eased(hours: float) -> float:
        return 12.0 - 2.0 * min(max(0.0, (hours - AT_H + 8.0) / 6.0), 1.0)

    def rising(hours: float) -> float:
        return 9.0 + 0.35 * max(0.0, hours - AT_H + 12.0) - (7.0 if hours >= AT_H else 0.0)

    watched = farm().run(AT_H + 4.0, {NORTH: rippled(rising), BESIDE: rippled(eased), BELOW: dry()})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


@pytest.mark.parametrize(("yesterday", "stayed_kpa"), [(True, -6.0), (False, 0.0)])
def test_what_the_day_brings_every_day_does_not_lead_a_leap_back(yesterday: bool, stayed_kpa: float) -> None:
    def daily(hours: float) -> float:
        rises = yesterday or hours >= AT_H
        swing = 2.2 * (1.0 - math.cos(2.0 * math.pi * (hours - AT_H) / 24.0)) if rises else 0.0
        return 20.0 + swing - (6.0 if hours >= AT_H else 0.0)

    seen = farm().run(AT_H + 20.0, {NORTH: rippled(daily), BESIDE: dry(), BELOW: dry()})
    standing = seen.standing(NORTH)
    look = Look(seen.state, standing, standing.hours.end - 1, seen.state.neighbours[NORTH], standing.hours.newest())
    doubt(look, hour_of(hours_us(AT_H)), -6.0)

    assert leap_in_doubt_kpa(look, -1.0) == stayed_kpa


@pytest.mark.parametrize(("noise_kpa", "told"), [(0.05, [(SHIFT, "north-30")]), (0.0065, [])])
def test_a_leap_by_a_factor_is_another_unit_only_if_the_noise_changed_too(
    noise_kpa: float, told: list[tuple[FindingKind, str]]
) -> None:
    factor = 0.13

    def own(hours: float) -> Reading:
        before, size_kpa = hours < AT_H, 0.05 if hours < AT_H else noise_kpa
        value = (15.0 if before else 15.0 * factor) + chance(4, hours).gauss(0.0, size_kpa)
        return sent(value, value - HEAD_KPA)

    watched = farm().run(AT_H + 4.0, {NORTH: own, BESIDE: dry(), BELOW: dry()})

    assert watched.opened(SHIFT) == told


@pytest.mark.parametrize(("fell_kpa", "leaps"), [((-1.0, -4.9, -6.8, -7.4), False), ((0.0, -3.7, -7.4, -7.4), True)])
def test_a_leap_that_averages_spread_over_two_hours_stands_in_the_second(
    fell_kpa: tuple[float, ...], leaps: bool
) -> None:
    def falling(hours: float) -> float:
        half_hour = int(2 * (hours - AT_H)) if hours >= AT_H else -1
        return 20.0 + (0.0 if half_hour < 0 else fell_kpa[min(half_hour, 3)])

    watched = Watched(instrument("north-30", interval_s=1800.0))
    watched.run(int(AT_H) + 5, {NORTH: rippled(falling)})

    size_kpa = leap_kpa(watched.standing(NORTH), hour_of(hours_us(AT_H)))
    assert (size_kpa == size_kpa) is leaps
