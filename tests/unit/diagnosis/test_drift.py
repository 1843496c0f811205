"""Zeros that drift, and soil that holds free water."""

from math import cos, exp, pi

import pytest

from parchd.diagnosis import drift
from parchd.diagnosis.contact import BASE
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.not_empty import dries
from parchd.diagnosis.proportion import below_water
from parchd.diagnosis.servicing import TOLD
from parchd.diagnosis.shift_back import SIZE
from parchd.diagnosis.verdict import Case, Look
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Watched, chance, hours_us, instrument

DRIFT, SHIFT = FindingKind.ZERO_DRIFT, FindingKind.LEVEL_SHIFT
OWN, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"
ONSET_DAY = 20.0


def ground(**changes: float) -> Course:
    return rippled(watered(**{"every_days": 5.0, "floor_kpa": 1.2, "growth_per_day": 0.6} | changes))


def drifting(course: Course, per_day_kpa: float, until_day: float = 1e9) -> Course:
    def drifts(hours: float) -> float:
        days = max(0.0, hours / 24.0 - ONSET_DAY)
        return course(hours) + (per_day_kpa * days if hours < until_day * 24.0 else 0.0)

    return drifts


def farm() -> Watched:
    return Watched(
        instrument("north-30", interval_s=3600.0, head_kpa=5.0),
        instrument("north-32", station="post 2", interval_s=3600.0, head_kpa=5.0),
        instrument("north-60", interval_s=3600.0, head_kpa=8.0),
    )


def courses(own: Course) -> dict[str, Course]:
    return {OWN: own, BESIDE: ground(floor_kpa=1.5), BELOW: ground(floor_kpa=4.0, growth_per_day=0.2)}


@pytest.mark.parametrize("per_day_kpa", [-0.12, -0.25])
def test_a_zero_that_sinks_is_found_when_it_reads_less_than_free_water(per_day_kpa: float) -> None:
    watched = farm().run(60 * 24, courses(drifting(ground(), per_day_kpa)))

    (found,) = watched.begun(DRIFT)
    assert found.key.name == "north-30"
    assert found.start_us >= hours_us(ONSET_DAY * 24.0)


def test_a_zero_that_rises_is_found_when_water_no_longer_leads_to_wet_soil() -> None:
    watched = farm().run(90 * 24, courses(drifting(ground(), 0.2)))

    assert watched.opened(DRIFT) == [(DRIFT, "north-30")]


def test_sound_zeros_stay_sound_whatever_the_soil_does() -> None:
    watched = farm().run(90 * 24, courses(ground(growth_per_day=0.8, swing_kpa=1.0)))

    assert watched.opened(DRIFT) == []


def test_free_water_that_stands_at_the_neighbours_too_is_no_drift() -> None:
    def flooded(course: Course) -> Course:
        return lambda hours: -2.0 if 30 * 24 <= hours < 40 * 24 else course(hours)

    watched = farm()
    watched.run(60 * 24, {name: rippled(flooded(course)) for name, course in courses(ground()).items()})

    assert watched.opened(DRIFT) == []


def test_water_that_stands_in_the_hole_of_one_cup_beside_dry_ground_is_no_drift() -> None:
    """It is gone again within two days, and neighbours have none of it."""

    def holed(hours: float) -> float:
        days = hours / 24.0 % 5.0 if hours >= ONSET_DAY * 24.0 else 5.0
        return ground()(hours) - 4.0 * exp(-days / 2.0)

    dry = ground(floor_kpa=9.0, growth_per_day=0.2)

    assert farm().run(50 * 24, {OWN: holed, BESIDE: dry, BELOW: dry}).opened(DRIFT) == []


def test_a_deep_one_that_may_have_the_signal_of_the_cup_above_does_not_drift() -> None:
    wet = ground(floor_kpa=1.2, growth_per_day=0.12)
    courses_ = {OWN: ground(), BESIDE: ground(), BELOW: lambda hours: wet(hours) - (3.0 if hours > 20 * 24 else 0.0)}

    assert farm().run(60 * 24, courses_).opened(DRIFT) == []


@pytest.mark.parametrize(("off_kpa", "told"), [(-5.2, [(DRIFT, "north-60")]), (-3.6, [])])
def test_what_read_less_for_a_few_days_than_the_cup_above_could_does_not_have_its_signal(
    off_kpa: float, told: list[tuple[FindingKind, str]]
) -> None:
    """That hangs on 3 kPa less of water, which is what the soil has dried by since."""

    def deep(hours: float) -> float:
        days = hours / 24.0
        soil_kpa = 12.0 if days < 40.0 else max(0.8 + 0.25 * (days - 40.0), 12.0 - 22.4 * (days - 40.0))
        return soil_kpa + max(off_kpa, -0.2 * max(0.0, days - 12.0))

    above = ground(floor_kpa=4.0, growth_per_day=0.1)
    watched = farm().run(50 * 24, {OWN: above, BESIDE: ground(), BELOW: rippled(deep)})

    assert watched.opened(DRIFT) == told


@pytest.mark.parametrize(("per_day_kpa", "told"), [(-0.1, True), (0.0, False)])
def test_a_deep_one_that_reads_less_than_the_water_above_it_weighs_drifts(per_day_kpa: float, told: bool) -> None:
    """After every watering water stands as high as the cup above, and weighs so much at the one below."""

    def flooded(floor_kpa: float) -> Course:
        dried = ground(floor_kpa=1.0, growth_per_day=0.6, falls_within_h=3.0)
        return lambda hours: dried(hours) - 1.0 + floor_kpa

    watched = farm().run(48 * 24, {OWN: flooded(-1.2), BESIDE: ground(), BELOW: drifting(flooded(-4.0), per_day_kpa)})

    assert watched.opened(DRIFT) == ([(DRIFT, "north-60")] if told else [])


def test_a_calibration_that_is_off_by_half_a_kilopascal_is_no_drift() -> None:
    watched = farm().run(80 * 24, courses(lambda hours: ground()(hours) - 0.5))

    assert watched.opened(DRIFT) == []


def test_soil_that_becomes_drier_everywhere_is_no_drift() -> None:
    drier = {name: drifting(course, 0.12) for name, course in courses(ground()).items()}

    watched = farm().run(80 * 24, drier)

    assert watched.opened(DRIFT) == []


@pytest.mark.parametrize(("in_doubt_kpa", "found"), [(-4.5, [(SHIFT, "north-30")]), (0.0, [])])
def test_a_leap_that_may_have_been_water_was_a_shift_if_it_reads_less_than_free_water_days_later(
    in_doubt_kpa: float, found: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drift, "_has_leapt", lambda _: True)
    monkeypatch.setattr(drift, "leap_in_doubt_kpa", lambda *_: in_doubt_kpa)
    moist = ground(growth_per_day=0.2)
    own = shifted(moist, 25.05 * 24.0, -4.5)

    assert farm().run(36 * 24, courses(own) | {BESIDE: moist}).opened(DRIFT, SHIFT) == found


def test_a_zero_that_was_set_anew_is_believed_after_two_wettings() -> None:
    watched = farm().run(80 * 24, courses(drifting(ground(), -0.2, until_day=50.0)))

    assert watched.opened(DRIFT) == [(DRIFT, "north-30")]
    assert len(watched.ended(DRIFT)) == 1


def test_a_zero_that_sinks_is_seen_beside_a_neighbour_before_it_reads_less_than_free_water() -> None:
    """In soil that never becomes as wet as that."""
    dry = {"floor_kpa": 5.5, "growth_per_day": 0.35}
    own, beside = drifting(ground(**dry), -0.2), ground(floor_kpa=2.5, growth_per_day=0.45)

    watched = farm().run(75 * 24, {OWN: own, BESIDE: beside, BELOW: ground(**dry)})

    assert watched.opened(DRIFT) == [(DRIFT, "north-30")]


def test_two_soils_that_dry_in_their_own_ways_have_sound_zeros() -> None:
    own, beside = ground(floor_kpa=5.5, growth_per_day=0.35), ground(floor_kpa=2.5, growth_per_day=0.45)

    watched = farm().run(75 * 24, {OWN: own, BESIDE: beside, BELOW: ground()})

    assert watched.opened(DRIFT) == []


def test_one_that_moves_a_seventh_of_what_its_neighbour_does_has_another_unit_and_no_wrong_zero() -> None:
    watched = farm().run(20 * 24, courses(lambda hours: 0.145 * (ground()(hours) + 5.0) - 5.0))

    assert watched.opened(DRIFT) == []


def test_one_that_moves_by_less_than_its_level_tells_has_no_other_unit() -> None:
    watched = farm().run(20 * 24, courses(lambda hours: 0.1 * (ground()(hours) - 1.2) - 3.5))

    assert watched.opened(FindingKind.WRONG_UNIT) == []


def test_a_little_free_water_that_stands_at_one_cup_after_every_watering_is_no_drift() -> None:
    watched = farm().run(40 * 24, courses(lambda hours: ground()(hours) - 2.8))

    assert watched.opened(DRIFT) == []


def test_a_tube_that_fell_from_the_dry_end_and_reads_less_than_free_water_beside_dry_ground_let_air_in() -> None:
    """Its neighbours fell as well, from a little rain."""

    def drying(hours: float, to_kpa: float, falls_kpa: float) -> float:
        days = hours / 24.0 - ONSET_DAY
        return to_kpa + 0.9 * days if days < 0.0 else max(falls_kpa, to_kpa * exp(-days * 12.0)) + 0.9 * days

    def emptied(hours: float) -> float:
        days = hours / 24.0 - ONSET_DAY
        return drying(hours, 78.0, 0.0) if days < 0.1 else -3.0 - 0.4 * (hours % 24.0 > 12.0)

    near = {BESIDE: rippled(lambda h: drying(h, 48.0, 26.0)), BELOW: rippled(lambda h: drying(h, 40.0, 24.0))}
    watched = farm().run(30 * 24, {OWN: rippled(emptied), **near})

    assert watched.opened(FindingKind.AIR_ENTRY, DRIFT) == [(FindingKind.AIR_ENTRY, "north-30")]


def looks(watched: Watched, name: str) -> Look:
    state, channel = watched.state, f"bus1/{name}"
    hours = state.standings[channel].hours
    return Look(state, state.standings[channel], hours.end - 1, state.neighbours[channel], hours.newest())


def test_the_wettest_hours_of_a_noisy_supply_tell_of_no_zero(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Look, "source_has", lambda _, kind: kind is FindingKind.NOISY_SUPPLY)

    def shaken(hours: float) -> float:
        return ground()(hours) + chance(3, hours).gauss(0.0, 8.0)

    assert farm().run(20 * 24, courses(shaken)).opened(DRIFT, SHIFT) == []


@pytest.mark.parametrize(
    ("beside_kpa", "until_day", "in_doubt_kpa", "leaked"),
    [(20.0, 99, 0.0, True), (2.0, 99, 0.0, False), (20.0, 99, -15.0, False), (2.0, 10, 0.0, False)],
)
def test_what_came_by_and_by_to_where_an_empty_tube_reads_while_all_stayed_dry_leaked_away(
    beside_kpa: float, until_day: int, in_doubt_kpa: float, leaked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drift, "leap_in_doubt_kpa", lambda *_: in_doubt_kpa)
    first_h = 10 * 24

    def own(hours: float) -> float:
        return 15.0 if hours < first_h - 12 else 19.0 * exp(-(hours - first_h + 12.0) / 10.0) - 4.0

    def beside(hours: float) -> float:
        return beside_kpa if first_h - 12 <= hours < until_day * 24 else 20.0

    watched = farm().run(15 * 24, {OWN: own, BESIDE: beside, BELOW: lambda _: 25.0})
    look = looks(watched, "north-30")

    case = drift._emptied(look, look.neighbours.zone, look.hour - 15 * 24 + first_h, Case(DRIFT, 0, 0.85))
    assert (case is not None and case.kind is FindingKind.LOST_WATER) is leaked


@pytest.mark.parametrize(("stands_kpa", "broke"), [(-4.2, True), (-1.5, False)])
def test_what_stands_where_an_empty_tube_does_since_it_fell_from_the_dry_end_broke_though_all_is_wet_by_now(
    stands_kpa: float, broke: bool
) -> None:
    def own(hours: float) -> float:
        return 72.0 + hours / 24.0 if hours < 6 * 24 else stands_kpa

    watched = farm().run(11 * 24, {OWN: rippled(own), BESIDE: lambda _: 5.0, BELOW: lambda _: 6.0})
    look = looks(watched, "north-30")

    case = drift._emptied(look, look.neighbours.zone, look.hour - 4 * 24, Case(DRIFT, 0, 0.85))
    assert (case is not None and case.kind is FindingKind.AIR_ENTRY) is broke


@pytest.mark.parametrize(("ago_days", "told"), [(17, False), (9, True)])
def test_a_level_that_shifted_weeks_ago_shows_no_other_unit_when_soil_keeps_still(ago_days: int, told: bool) -> None:
    watched = farm().run(20 * 24, courses(lambda hours: 0.145 * (ground()(hours) + 5.0) - 5.0))
    look = looks(watched, "north-30")
    key = FindingKey(SHIFT, look.instrument.subject)
    begin_us = look.now_us - ago_days * 24 * HOUR_US
    look.state.findings[key] = Finding(key, begin_us, begin_us, 0.9)

    assert (below_water(look) is not None) is told


@pytest.mark.parametrize(("own", "served_days", "noisy", "told"), [
    (lambda hours: ground(every_days=20.0, growth_per_day=0.2)(hours) - 9.0, None, False, True),
    (lambda hours: ground(every_days=20.0, growth_per_day=0.2)(hours) - 9.0, 3, False, False),
    (lambda hours: ground(every_days=20.0, growth_per_day=0.2)(hours) - 9.0, None, True, False),
    (rippled(lambda _: -5.0), None, False, False),
])  # fmt: skip
def test_one_that_was_taken_for_empty_and_dries_with_its_neighbours_has_a_wrong_zero(
    own: Course, served_days: int | None, noisy: bool, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Amid noise nobody can see that it was opened."""
    watched = farm().run(12 * 24, courses(own) | {BESIDE: ground(every_days=20.0, growth_per_day=0.2)})
    look = looks(watched, "north-30")
    key = FindingKey(FindingKind.LOST_WATER, look.instrument.subject)
    begin_us = look.now_us - 6 * 24 * HOUR_US
    look.state.findings[key] = Finding(key, begin_us, begin_us, 0.9)
    if served_days is not None:
        look.state.sources[look.instrument.source].notes[TOLD] = look.hour - 24 * served_days

    monkeypatch.setattr(Look, "source_has", lambda _, kind: noisy and kind is FindingKind.NOISY_SUPPLY)

    case = dries(look)
    assert (case is not None) is told
    assert case is None or (case.kind is DRIFT and FindingKind.LOST_WATER in case.refutes)


@pytest.mark.parametrize(("poor", "kind"), [(False, SHIFT), (True, FindingKind.POOR_CONTACT)])
def test_one_that_was_taken_for_empty_and_leapt_there_was_shifted_or_its_gap_closed(
    poor: bool, kind: FindingKind
) -> None:
    """No water leads down within one hour, nor does any zero drift so."""
    course = ground(every_days=20.0, growth_per_day=0.2)
    watched = farm().run(12 * 24, courses(shifted(course, 6 * 24.0, -9.0)) | {BESIDE: course})
    look = looks(watched, "north-30")
    key = FindingKey(FindingKind.LOST_WATER, look.instrument.subject)
    begin_us = look.now_us - 6 * 24 * HOUR_US
    look.state.findings[key] = Finding(key, begin_us, begin_us, 0.9)
    look.standing.notes.pop(SIZE, None)
    if poor:
        look.standing.notes[BASE] = 0.9

    case = dries(look)

    assert case is not None
    assert (case.kind, FindingKind.LOST_WATER in case.refutes) == (kind, True)
    assert (SIZE in look.standing.notes) is not poor


@pytest.mark.parametrize(("swing_kpa", "opened"), [(0.0, []), (0.8, [(DRIFT, "north-30")])])
def test_what_keeps_still_from_the_day_on_which_it_first_read_less_than_free_water_has_no_wrong_zero(
    swing_kpa: float, opened: list[tuple[FindingKind, str]]
) -> None:
    """It moved before; a cup that cracked goes with the warmth of each day only."""

    def own(hours: float) -> float:
        days = hours / 24.0
        low_kpa = -2.5 - swing_kpa * (1.0 + cos(pi * days / 2.0))
        return 12.0 + 2.0 * days if days < 8.0 else max(low_kpa, 28.0 - 100.0 * (days - 8.0))

    wet = {"every_days": 8.0, "growth_per_day": 0.15}
    near = {BESIDE: ground(floor_kpa=2.0, **wet), BELOW: ground(floor_kpa=3.0, **wet)}

    assert farm().run(14 * 24, {OWN: rippled(own), **near}).opened(DRIFT) == opened


@pytest.mark.parametrize(("every_days", "opened"), [(8.0, [(DRIFT, "north-30")]), (40.0, [])])
def test_what_came_to_read_less_than_free_water_within_hours_while_all_stayed_dry_has_no_wrong_zero(
    every_days: float, opened: list[tuple[FindingKind, str]]
) -> None:
    """A cup that cracked goes with the warmth of the day as far as soil does."""

    def own(hours: float) -> float:
        days = hours / 24.0
        return 12.0 + 2.0 * days if days < 8.0 else max(-2.2 - 0.4 * (1.0 + cos(pi * days / 2.0)), 812.0 - 98.0 * days)

    beside = ground(every_days=every_days, floor_kpa=2.0, growth_per_day=0.08)

    assert farm().run(15 * 24, {OWN: rippled(own), BESIDE: beside, BELOW: beside}).opened(DRIFT) == opened


@pytest.mark.parametrize(("stands_kpa", "opened"), [(-5.6, []), (4.0, [(DRIFT, "north-30")])])
def test_water_that_a_deeper_one_of_its_station_reads_as_well_is_there_whatever_else_is_wrong_with_that(
    stands_kpa: float, opened: list[tuple[FindingKind, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Look, "trusts", lambda _, n: n.instrument.name != "north-60")
    wet = {OWN: ground(floor_kpa=-2.6, growth_per_day=0.0), BESIDE: ground(floor_kpa=1.5, growth_per_day=0.0)}

    watched = farm().run(24 * 24, {**wet, BELOW: rippled(lambda _: stands_kpa)})

    assert watched.opened(DRIFT) == opened
