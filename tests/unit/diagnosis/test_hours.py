"""Four weeks of hours."""

import math

from hypothesis import given
from hypothesis import strategies as st

from parchd.diagnosis.hours import EMPTY_HOUR, KEPT_HOURS, SPARE_HOURS, Hour, Hours


def filled(numbers: list[int]) -> Hours:
    hours = Hours()
    for number in numbers:
        hours.push(number, Hour(mean_kpa=float(number)))
    return hours


def test_an_hour_without_readings_is_an_empty_one() -> None:
    hours = filled([100, 103])

    assert [str(v) for v in hours.column("mean_kpa", 99, 105)] == ["nan", "100.0", "nan", "nan", "103.0", "nan"]
    assert math.isnan(hours.at("mean_kpa", 101))
    assert hours.at("good", 101) == EMPTY_HOUR.good


def test_what_was_pushed_comes_back_whole() -> None:
    hours = Hours()
    hours.push(7, Hour(*(float(number) for number in range(len(Hour._fields)))))

    assert hours.hour(7) == Hour(*(float(number) for number in range(len(Hour._fields))))


def test_a_silence_of_months_begins_anew() -> None:
    hours = filled([10, 10 + KEPT_HOURS + 100])

    assert len(hours) == 1


def test_memory_is_bounded_and_four_weeks_are_kept() -> None:
    hours = filled(list(range(3 * KEPT_HOURS)))

    assert KEPT_HOURS <= len(hours) <= KEPT_HOURS + SPARE_HOURS
    assert hours.at("mean_kpa", 3 * KEPT_HOURS - 1) == 3 * KEPT_HOURS - 1


@given(st.lists(st.integers(0, 900), min_size=1, max_size=60, unique=True).map(sorted), st.integers(-5, 900))
def test_a_column_agrees_with_its_single_hours(numbers: list[int], begin: int) -> None:
    hours = filled(numbers)

    column = hours.column("mean_kpa", begin, begin + 30)

    assert len(column) == 30
    assert [str(value) for value in column] == [str(hours.at("mean_kpa", begin + i)) for i in range(30)]
