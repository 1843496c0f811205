"""Levels that shift, and steep courses that do not."""

import math

import pytest

from parchd.diagnosis import kept, shift
from parchd.diagnosis.commotion import moves_with
from parchd.diagnosis.kept import kept_kpa
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.verdict import Look
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Watched, averaged, hours_us, instrument, noisy

SHIFT = FindingKind.LEVEL_SHIFT
NORTH, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"
AT_H = 90.0


def ground(**changes: float) -> Course:
    return rippled(watered(**{"every_days": 12.0, "growth_per_day": 0.15, "floor_kpa": 5.0} | changes))


def farm(interval_s: float = 900.0) -> Watched:
    """Two stations with a pair at 30 cm, and one at 60 cm."""
    return Watched(
        instrument("north-30", interval_s=interval_s),
        instrument("north-32", station="post 2", interval_s=interval_s),
        instrument("north-60", interval_s=interval_s),
    )


def courses(north: Course) -> dict[str, Course]:
    return {NORTH: north, BESIDE: ground(floor_kpa=6.0), BELOW: ground(floor_kpa=7.0, swing_kpa=0.1)}


@pytest.mark.parametrize("by_kpa", [-4.0, 4.5, 12.0])
@pytest.mark.parametrize("interval_s", [300.0, 900.0, 3600.0])
def test_a_step_after_which_all_goes_on_as_before_is_found_within_a_day(by_kpa: float, interval_s: float) -> None:
    watched = farm(interval_s).run(7 * 24, courses(shifted(ground(), AT_H, by_kpa)))

    (found,) = watched.begun(SHIFT)
    assert abs(found.start_us - hours_us(AT_H)) <= hours_us(1.0) - hours_us(0.0)
    assert found.found_us <= hours_us(AT_H + 24.0)
    assert found.key.name == "north-30"


def test_a_step_is_found_in_means_where_one_lies_half_way() -> None:
    course = averaged(shifted(ground(), AT_H + 0.1, 6.0))

    watched = farm().run(7 * 24, courses(course))

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


def test_a_rise_needs_no_neighbours_to_be_a_shift() -> None:
    watched = Watched(instrument("north-30")).run(7 * 24, {NORTH: shifted(ground(), AT_H, 6.0)})

    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


@pytest.mark.parametrize(("by_kpa", "told"), [(28.0, [(SHIFT, "north-30")]), (33.0, [])])
def test_no_zero_shifts_by_half_the_range(by_kpa: float, told: list[tuple[FindingKind, str]]) -> None:
    course = shifted(ground(), AT_H, by_kpa)

    assert farm().run(AT_H + 30.0, courses(course)).opened(SHIFT) == told


def test_a_fall_that_nobody_can_witness_is_no_shift() -> None:
    watched = Watched(instrument("north-30")).run(7 * 24, {NORTH: shifted(ground(), AT_H, -4.0)})

    assert watched.opened(SHIFT) == []


@pytest.mark.parametrize(("floor_kpa", "told"), [(15.0, [(SHIFT, "north-30")]), (5.0, [])])
def test_a_fall_that_stands_still_in_dry_ground_is_no_water_though_none_at_its_depth_can_witness(
    floor_kpa: float, told: list[tuple[FindingKind, str]]
) -> None:
    watched = Watched(instrument("north-30"), instrument("north-60"))

    watched.run(7 * 24, {NORTH: shifted(ground(floor_kpa=floor_kpa), AT_H, -4.0), BELOW: ground(floor_kpa=12.0)})

    assert watched.opened(SHIFT) == told


def test_water_that_came_within_the_hour_is_no_shift() -> None:
    wet = {"every_days": 4.0, "falls_within_h": 0.2, "growth_per_day": 0.4}
    watched = farm()

    watched.run(20 * 24, {NORTH: ground(**wet), BESIDE: ground(**wet), BELOW: ground(**wet, late_h=9.0)})

    assert watched.opened(SHIFT) == []


def test_water_that_reached_the_station_only_in_part_is_no_shift() -> None:
    def partly(hours: float) -> float:
        left = math.exp(-max(0.0, hours - AT_H) / 1.0)
        return ground()(hours) - (5.0 * (1.0 - left) if hours >= AT_H else 0.0)

    def more(hours: float) -> float:
        return 4.0 + ground()(hours) * (math.exp(-(hours - AT_H) / 2.0) if hours >= AT_H else 1.0)

    watched = farm().run(7 * 24, {NORTH: partly, BESIDE: more, BELOW: ground(swing_kpa=0.1)})

    assert watched.opened(SHIFT) == []


def test_dry_soil_that_dries_by_kilopascals_an_hour_through_the_day_is_no_shift() -> None:
    def steep(hours: float) -> float:
        day, part = divmod(hours / 24.0, 1.0)
        return 12.0 + 9.0 * day + 9.0 * min(max((part - 0.4) / 0.2, 0.0), 1.0)

    watched = Watched(instrument("north-30"), instrument("north-60"))

    watched.run(6 * 24, {NORTH: rippled(steep), BELOW: ground()})

    assert watched.opened(SHIFT) == []


def test_dry_soil_that_goes_on_drying_after_one_wild_sample_is_no_shift() -> None:
    day_kpa = (
        15.7, 15.0, 14.4, 13.9, 13.5, 13.5, 13.9, 14.5, 15.4, 16.5, 17.8, 19.2,
        20.6, 21.8, 22.7, 23.4, 23.9, 24.3, 24.4, 24.0, 23.7, 23.3, 22.9, 22.4,
    )  # fmt: skip

    def drying(hours: float) -> float:
        day, hour = divmod(int(hours), 24)
        return day_kpa[hour] - 4.8 * (4 - day)

    def wild(hours: float) -> float:
        return 11.4 if int(hours) == 4 * 24 + 9 else drying(hours)

    slower = rippled(lambda hours: 8.0 + 0.4 * drying(hours))

    watched = farm(3600.0).run(6 * 24, {NORTH: rippled(wild), BESIDE: slower, BELOW: slower})

    assert watched.opened(SHIFT) == []


def test_one_wild_sample_on_the_morning_of_a_drier_day_is_no_shift() -> None:
    day_kpa = (
        5.9, 5.8, 5.8, 5.7, 5.7, 5.8, 5.9, 6.0, 6.3, 6.8, 7.2, 7.7,
        8.3, 8.8, 9.3, 9.7, 10.0, 10.2, 10.3, 10.3, 10.2, 10.1, 9.9, 9.7,
    )  # fmt: skip

    def drying(hours: float) -> float:
        day, hour = divmod(int(hours), 24)
        return day_kpa[hour] - (0.0 if day >= 4 else 4.0 if hour >= 7 else 0.3)

    def wild(hours: float) -> float:
        return drying(hours) + (3.3 if int(hours) == 4 * 24 + 9 else 0.0)

    slower = rippled(lambda hours: 12.0 + 0.4 * drying(hours))

    watched = farm(3600.0).run(6 * 24, {NORTH: rippled(wild), BESIDE: slower, BELOW: slower})

    assert watched.opened(SHIFT) == []


def test_tubes_that_were_opened_and_settle_are_no_shifts() -> None:
    def opened(course: Course) -> Course:
        def settles(hours: float) -> float:
            since = hours - AT_H
            return course(hours) - (course(hours) + 1.0) * (0.9 * math.exp(-since / 1.5) if since >= 0.0 else 0.0)

        return settles

    watched = farm()

    watched.run(7 * 24, {name: opened(course) for name, course in courses(ground()).items()})

    assert watched.opened(SHIFT) == []


@pytest.mark.parametrize("by_kpa", [-6.0, 6.0])
def test_a_shift_ends_at_once_when_the_level_comes_back(by_kpa: float) -> None:
    watched = farm().run(10 * 24, courses(shifted(ground(), AT_H, by_kpa, until_h=170.0)))

    (ended,) = watched.ended(SHIFT)
    assert ended.ended_us is not None
    assert hours_us(170.0) <= ended.ended_us <= hours_us(172.0)
    assert watched.opened(SHIFT) == [(SHIFT, "north-30")]


def test_a_step_back_while_the_source_shakes_ends_no_shift(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.DROP_OUTS)

    watched = farm().run(10 * 24, courses(shifted(ground(), AT_H, -6.0, until_h=170.0)))

    assert watched.ended(SHIFT) == []


def test_hours_that_a_clock_left_out_end_no_shift() -> None:
    shift_until_it_is_set = shifted(ground(), AT_H, -6.0, until_h=170.0)
    names = ("north-30", "north-32", "north-60")
    watched = Watched(
        instrument(names[0]), instrument(names[1], station="post 2"), instrument(names[2]),
        lag_s=lambda hours: 1.0 if hours < 170.0 else 8 * 3600.0,
    )  # fmt: skip

    watched.run(10 * 24, courses(shift_until_it_is_set))

    assert watched.ended(SHIFT) == []


def test_water_does_not_end_a_shift_up() -> None:
    wet = {"every_days": 6.0, "falls_within_h": 0.3}
    watched = farm()

    watched.run(8 * 24, {NORTH: shifted(ground(**wet), AT_H, 8.0), BESIDE: ground(**wet), BELOW: ground(**wet)})

    assert SHIFT in watched.still_open()


def deep_farm() -> Watched:
    return Watched(
        instrument("north-60", head_kpa=5.9),
        instrument("north-150", head_kpa=14.7),
        instrument("north-152", head_kpa=14.7, station="post 2"),
    )


def deep(above: Course) -> dict[str, Course]:
    beside: Course = rippled(lambda _: 10.5)
    return {BELOW: rippled(above), "bus1/north-150": rippled(sinking), "bus1/north-152": beside}


def sinking(hours: float) -> float:
    """Lose a third of the vacuum in half a day, and hold the rest."""
    return 10.0 - (9.5 * (1.0 - math.exp(-(hours - AT_H) / 4.0)) if hours >= AT_H else 0.0)


def test_a_deep_level_that_sinks_below_the_dry_ground_above_is_found_within_a_day() -> None:
    watched = deep_farm()

    watched.run(7 * 24, deep(lambda _: 8.0))

    (found,) = watched.begun(SHIFT)
    assert found.key.name == "north-150"
    assert found.found_us <= hours_us(AT_H + 24.0)


def test_deep_soil_that_water_from_above_reached_has_not_sunk() -> None:
    def above(hours: float) -> float:
        return 8.0 if hours < AT_H - 20.0 else 0.5 + (hours - AT_H + 20.0) / 30.0

    watched = deep_farm()

    watched.run(7 * 24, deep(above))

    assert watched.opened(SHIFT) == []


def moved(course: Course, share: float, by_kpa: float) -> Course:
    """After some hour keep only a share of what a course does in a day, and move it."""
    from_kpa = course(AT_H)
    return lambda h: course(h) if h < AT_H else from_kpa + share * (course(h) - from_kpa) + by_kpa


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_a_fall_when_water_came_beside_may_be_water_or_a_gap_that_closes_however_the_day_goes_on(share: float) -> None:
    dry = rippled(watered(every_days=12.0, growth_per_day=0.15, floor_kpa=12.0, swing_kpa=2.0))
    beside = watered(every_days=(AT_H - 5.0) / 24.0, growth_per_day=0.085, floor_kpa=6.0)

    watched = farm().run(7 * 24, {NORTH: moved(dry, share, -9.0), BESIDE: rippled(beside), BELOW: ground()})

    assert watched.opened(SHIFT) == []


@pytest.mark.parametrize(
    ("leaping", "drops_out", "wiring"),
    [(("south-30", "south-60"), True, True), (("south-30",), True, False), (("south-30", "south-60"), False, False)],
)
def test_what_moves_most_of_a_source_that_drops_out_is_its_wiring(
    leaping: tuple[str, ...], drops_out: bool, wiring: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where no neighbour in the ground can be asked."""
    names = ("north-30", "south-30", "south-60", "west-30")
    watched = Watched(*(instrument(name) for name in names))
    moved = {name: shifted(ground(), AT_H, 6.0 if name in ("north-30", *leaping) else 0.0) for name in names}
    watched.run(int(AT_H) + 3, {f"bus1/{name}": course for name, course in moved.items()})
    monkeypatch.setattr(Look, "source_has", lambda _, kind: drops_out and kind is FindingKind.DROP_OUTS)
    state, standing = watched.state, watched.state.standings[NORTH]
    look = Look(state, standing, standing.hours.end - 1, state.neighbours[NORTH], standing.hours.newest())

    assert moves_with(look, look.hour - 2, 6.0) is wiring


def test_a_neighbour_whose_fall_ends_just_then_does_not_move_with_a_rise() -> None:
    def falls(hours: float) -> float:
        if hours >= AT_H - 0.5:
            return 5.0 + 0.5 * (hours - AT_H + 0.5)
        return 11.0 + 0.1 * hours - 3.0 * max(0.0, hours - AT_H + 5.5)

    watched = farm().run(int(AT_H) + 3, courses(shifted(ground(), AT_H, 12.0)) | {BESIDE: falls})
    state, standing = watched.state, watched.state.standings[NORTH]
    look = Look(state, standing, standing.hours.end - 1, state.neighbours[NORTH], standing.hours.newest())

    assert not moves_with(look, look.hour - 1, 12.0)


@pytest.mark.parametrize(("drops_out", "told"), [(True, [(SHIFT, "north-30")]), (False, [])])
def test_dips_of_known_wiring_are_no_hands_on_the_tubes_when_a_level_leaps(
    drops_out: bool, told: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Look, "source_has", lambda _, kind: drops_out and kind is FindingKind.DROP_OUTS)
    monkeypatch.setattr(shift, "someone_was_there", lambda *_: True)
    monkeypatch.setattr(kept, "someone_was_there", lambda *_: True)

    assert farm().run(int(AT_H) + 24, courses(shifted(ground(), AT_H, 12.0))).opened(SHIFT) == told


@pytest.mark.parametrize(("noise_kpa", "size_kpa", "told"), [(0.05, 4.4, True), (1.2, 4.4, False), (1.2, 12.0, True)])
def test_a_step_that_is_hardly_more_than_what_samples_scatter_is_none(
    noise_kpa: float, size_kpa: float, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    watched = farm().run(5 * 24, courses(noisy(ground(), noise_kpa, 1)))
    monkeypatch.setattr(kept, "_size", lambda *_: size_kpa)
    monkeypatch.setattr(kept, "_rises_back", lambda *_: False)
    state, standing = watched.state, watched.state.standings[NORTH]
    look = Look(state, standing, standing.hours.end - 1, state.neighbours[NORTH], standing.hours.newest())

    assert (kept_kpa(look, look.hour - 12) == size_kpa) is told
