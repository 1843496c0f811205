"""Signals that an offset, or noise, carries out of their range are no broken wires."""

from collections.abc import Callable

import pytest

from parchd.contract import Cause, Reading
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.outside import creeps
from parchd.diagnosis.scale import watch
from parchd.diagnosis.verdict import Look
from parchd.testing.courses import Course, rippled, shifted, watered
from parchd.testing.diagnosing import Curve, Watched, chance, instrument, sent

NORTH, BESIDE, BELOW = "bus1/north-30", "bus1/north-32", "bus1/north-60"
HEAD_KPA, EDGE_KPA, RAIL_V = 4.5, -6.25, 0.1
OPEN, SHIFT, DRIFT = FindingKind.OPEN_CIRCUIT, FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT
AT_H = 150.0


def farm() -> Watched:
    return Watched(
        instrument("north-30", head_kpa=HEAD_KPA),
        instrument("north-32", station="post 2", head_kpa=HEAD_KPA),
        instrument("north-60", head_kpa=7.4),
    )


def ground(**changes: float) -> Course:
    return rippled(watered(**{"every_days": 6.0, "growth_per_day": 0.2, "floor_kpa": 3.0} | changes))


def wired(course: Course, broken: Callable[[float], bool] = lambda _: False) -> Curve:
    """A line from 0.5 V at no vacuum to 4.5 V at 100 kPa; below 0.25 V it is taken for open."""

    def curve(hours: float) -> Reading:
        kpa = course(hours)
        volts = (
            RAIL_V * (1.0 + 0.003 * chance(3, hours).gauss(0.0, 1.0))
            if broken(hours)
            else 0.5 + 0.04 * (kpa + HEAD_KPA)
        )
        good = volts >= 0.5 + 0.04 * EDGE_KPA
        return sent(volts, kpa if good else None, Cause.NONE if good else Cause.OPEN_CIRCUIT)

    return curve


def beside() -> dict[str, Curve]:
    return {BESIDE: ground(), BELOW: ground(late_h=10.0, floor_kpa=5.0)}


def test_a_shifted_level_that_leaves_its_range_in_wet_soil_is_no_broken_wire() -> None:
    course = shifted(ground(), AT_H - 20.0, -14.5)

    watched = farm().run(20 * 24, {NORTH: wired(course), **beside()})

    assert watched.opened(SHIFT, OPEN) == [(SHIFT, "north-30")]


def test_a_level_that_shifts_out_of_its_range_is_told_when_it_comes_back() -> None:
    course = shifted(ground(), AT_H, -15.0)

    watched = farm().run(20 * 24, {NORTH: wired(course), **beside()})

    assert watched.still_open() == {SHIFT}


def test_a_wire_that_breaks_on_a_shifted_one_is_told() -> None:
    course = shifted(ground(), AT_H - 20.0, -8.0)

    watched = farm().run(20 * 24, {NORTH: wired(course, lambda h: h >= AT_H + 40.0), **beside()})

    assert watched.still_open() == {SHIFT, OPEN}


def test_a_zero_that_has_drifted_out_of_its_range_is_no_broken_wire_though_the_soil_stands_still() -> None:
    def drifting(hours: float) -> float:
        return (ground()(hours) if hours < 24.5 * 24 else 3.3) - 0.02 * hours

    watched = farm().run(40 * 24, {NORTH: wired(drifting), **beside()})

    assert watched.opened(DRIFT, OPEN) == [(DRIFT, "north-30")]


@pytest.mark.parametrize(("falls_kpa", "crept"), [(0.7, True), (4.0, False)])
def test_near_nought_a_signal_creeps_by_kilopascals_not_by_a_share_of_itself(falls_kpa: float, crept: bool) -> None:
    def near_nought(hours: float) -> Reading:
        kpa = 7.0 - (falls_kpa if hours >= 28.0 else 0.0)
        return sent(0.04 * (kpa - 2.0), kpa, Cause.NONE)

    watched = farm().run(30, {NORTH: near_nought, **beside()})
    standing = watched.standing(NORTH)
    last = standing.hours.end - 1

    assert not creeps(standing, last - 1, last)
    assert creeps(standing, last - 1, last, per_raw=25.0) is crept


def test_a_loose_wire_that_sends_what_the_soil_does_in_between_is_no_shift() -> None:
    def loose(h: float) -> bool:
        return any(begin_h <= h < begin_h + 4.0 for begin_h in (AT_H, AT_H + 10.0, AT_H + 102.0))

    watched = farm().run(15 * 24, {NORTH: wired(ground(), loose), **beside()})

    assert set(watched.opened(SHIFT, OPEN)) == {(OPEN, "north-30")}


def test_a_wire_that_breaks_in_wet_soil_is_told_at_once() -> None:
    watched = farm().run(AT_H + 4.0, {NORTH: wired(ground(), lambda h: h >= AT_H), **beside()})

    assert watched.still_open() == {OPEN}


def test_a_wire_that_was_mended_was_broken() -> None:
    watched = farm().run(20 * 24, {NORTH: wired(ground(), lambda h: AT_H <= h < AT_H + 90.0), **beside()})

    assert watched.opened(SHIFT, OPEN, DRIFT) == [(OPEN, "north-30")]


def test_noise_of_the_supply_that_reaches_beyond_the_edge_is_no_broken_wire() -> None:
    noisy_from_h = 60.0

    def noise(seed: int, course: Course) -> Course:
        return lambda h: course(h) + (chance(seed, h).gauss(0.0, 6.0) if h >= noisy_from_h else 0.0)

    wet = shifted(ground(growth_per_day=0.05, floor_kpa=2.0), 0.0, -3.0)
    others = {name: noise(number, wet) for number, name in enumerate((BESIDE, BELOW))}

    watched = farm().run(12 * 24, {NORTH: wired(noise(2, wet)), **others})

    assert set(watched.opened()) == {(FindingKind.NOISY_SUPPLY, "bus1")}


def test_a_shifted_level_out_of_its_range_is_no_broken_wire_though_the_soil_stays_wet_for_a_week() -> None:
    def soil(h: float) -> float:
        return ground(growth_per_day=0.35)(h) if h < AT_H else 3.3

    course = rippled(shifted(soil, AT_H - 20.0, -16.5))

    watched = farm().run(14 * 24, {NORTH: wired(course), BESIDE: rippled(soil), BELOW: rippled(soil)})

    assert watched.opened(SHIFT, OPEN, FindingKind.WRONG_UNIT) == [(SHIFT, "north-30")]


@pytest.mark.parametrize(("drifts", "told"), [(False, True), (True, False)])
def test_a_zero_that_drifted_out_of_its_range_has_no_other_unit(drifts: bool, told: bool) -> None:
    def off(hours: float) -> float:
        return 0.3 * ground(floor_kpa=6.0)(hours) - 15.5

    watched = farm().run(
        4 * 24, {NORTH: wired(off), BESIDE: wired(ground(floor_kpa=12.0)), BELOW: wired(ground(floor_kpa=12.0))}
    )
    standing = watched.standing(NORTH)
    look = Look(
        watched.state, standing, standing.hours.end - 1, watched.state.neighbours[NORTH], standing.hours.newest()
    )
    for key in list(watched.state.findings):
        del watched.state.findings[key]
    if drifts:
        key = FindingKey(DRIFT, look.instrument.subject)
        watched.state.findings[key] = Finding(key, 0, 0, 0.8)

    assert (list(watch(look)) != []) is told
