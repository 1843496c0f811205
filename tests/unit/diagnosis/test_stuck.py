"""Values that are stuck, and ones that rest."""

import math

import pytest

from parchd.contract import Cause
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.courses import Course, rippled, stepped, watered
from parchd.testing.diagnosing import Watched, hours_us, instrument, sent

STUCK = FindingKind.STUCK_VALUE
NAME, CHANNEL = "north-20", "bus1/north-20"


def held(course: Course, from_h: float, until_h: float = 1e9) -> Course:
    """Stop at what it was at some hour, and go on at another."""
    return lambda hours: course(from_h if from_h <= hours < until_h else hours)


@pytest.mark.parametrize("interval_s", [60.0, 900.0, 3600.0])
def test_a_number_that_stays_where_it_always_moved_is_stuck_within_a_day(interval_s: float) -> None:
    farm = Watched(instrument(NAME, interval_s=interval_s))

    farm.run(6 * 24, {CHANNEL: held(rippled(watered()), 100.0)})

    (found,) = farm.begun(STUCK)
    assert found.start_us == hours_us(100.0)
    assert found.found_us <= hours_us(124.0)


@pytest.mark.parametrize("interval_s", [900.0, 3600.0])
def test_a_stuck_value_is_believed_again_once_it_moves(interval_s: float) -> None:
    farm = Watched(instrument(NAME, interval_s=interval_s))

    farm.run(8 * 24, {CHANNEL: held(rippled(watered()), 100.0, 140.0)})

    (ended,) = farm.ended(STUCK)
    assert ended.ended_us == pytest.approx(hours_us(140.0), abs=hours_us(2.0) - hours_us(0.0))
    assert farm.opened(STUCK) == [(STUCK, NAME)]


def test_impossible_numbers_that_move_end_a_stuck_value() -> None:
    course = held(rippled(watered()), 100.0)
    farm = Watched(instrument(NAME))

    farm.run(
        7 * 24, {CHANNEL: lambda hours: course(hours) if hours < 140.0 else sent(hours, None, Cause.ABOVE_PHYSICAL)}
    )

    (ended,) = farm.ended(STUCK)
    assert ended.ended_us == pytest.approx(hours_us(140.0), abs=hours_us(2.0) - hours_us(0.0))


def test_noise_that_stops_is_stuck_in_full_soil_too() -> None:
    full: Course = rippled(lambda _: 0.5)
    farm = Watched(instrument(NAME))

    farm.run(7 * 24, {CHANNEL: held(full, 120.0)})

    assert farm.opened(STUCK) == [(STUCK, NAME)]


def test_a_deep_tensiometer_that_rests_on_a_coarse_code_for_hours_is_not_stuck() -> None:
    slow: Course = stepped(lambda hours: 9.0 + 0.2 * hours / 24.0)
    farm = Watched(instrument("north-90"), instrument("north-30"))

    farm.run(20 * 24, {"bus1/north-90": slow, "bus1/north-30": rippled(watered())})

    assert farm.opened(STUCK) == []


def test_calm_ground_that_rests_thrice_as_long_as_ever_before_is_not_stuck() -> None:
    resting = held(stepped(lambda hours: 9.0 + 0.6 * hours / 24.0), 300.0, 315.0)
    farm = Watched(instrument(NAME), instrument("north-30"))

    farm.run(16 * 24, {CHANNEL: resting, "bus1/north-30": rippled(watered())})

    assert farm.opened(STUCK) == []


def test_what_was_known_for_a_day_only_may_rest_for_another() -> None:
    farm = Watched(instrument(NAME))

    farm.run(60, {CHANNEL: held(rippled(lambda hours: 9.0 + hours / 24.0), 25.0, 55.0)})

    assert farm.opened(STUCK) == []


def test_full_soil_that_lies_still_for_a_day_after_it_was_dry_is_not_stuck() -> None:
    def flooded(hours: float) -> float:
        return (
            10.0 + hours / 12.0 if hours < 120.0 else max(0.3, 20.0 - 10.0 * (hours - 120.0)) + max(0.0, hours - 146.0)
        )

    farm = Watched(instrument(NAME))

    farm.run(8 * 24, {CHANNEL: stepped(flooded)})

    assert farm.opened(STUCK) == []


def test_wet_ground_that_comes_to_rest_after_days_of_drying_is_not_stuck_for_two_days() -> None:
    """It moved by day and rested by night; then water came, and since it has drained away its coarse code rests."""

    def wetted(hours: float) -> float:
        dry = 20.0 + 4.0 * (hours // 24.0 + min(1.0, hours % 24.0 / 16.0))
        return dry if hours < 150.0 else 1.8 + 43.0 * math.exp(-(hours - 150.0) / 5.0) + max(0.0, hours - 222.0)

    farm = Watched(instrument(NAME, interval_s=3600.0))

    farm.run(10 * 24, {CHANNEL: stepped(wetted, 0.14)})

    assert farm.opened(STUCK) == []


def test_a_gateway_that_was_silent_in_between_is_not_stuck() -> None:
    course = rippled(watered())
    farm = Watched(instrument(NAME))

    farm.run(8 * 24, {CHANNEL: lambda hours: None if 100.0 < hours < 130.0 else course(hours)})

    assert farm.opened(STUCK) == []
