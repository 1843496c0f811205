"""Slopes and steps of short series."""

import math

from hypothesis import given
from hypothesis import strategies as st

from parchd.diagnosis.hours import NAN
from parchd.diagnosis.trends import days, middle, scatter, slope, step

NUMBERS = st.floats(-100.0, 100.0, allow_nan=False).map(lambda value: round(value, 3))
SERIES = st.lists(NUMBERS, min_size=2, max_size=30)


@given(SERIES, NUMBERS, NUMBERS)
def test_a_slope_is_that_of_the_line_that_was_added(values: list[float], rise: float, offset: float) -> None:
    points = [(float(number), value) for number, value in enumerate(values)]
    tilted = [(x, y + rise * x + offset) for x, y in points]

    assert math.isclose(slope(tilted), slope(points) + rise, abs_tol=1e-6)


def test_a_few_wild_values_change_no_slope() -> None:
    line = [(float(day), 0.1 * day) for day in range(20)]
    wild = [(x, 40.0 if x in (3.0, 9.0, 15.0) else y) for x, y in line]

    assert math.isclose(slope(wild), 0.1, abs_tol=0.01)


def test_there_is_no_slope_without_two_different_times() -> None:
    assert math.isnan(slope([(1.0, 2.0), (1.0, 3.0)]))
    assert math.isnan(slope([]))


@given(st.lists(st.floats(-1.0, 1.0), min_size=5, max_size=15), st.lists(st.floats(9.0, 11.0), min_size=5, max_size=15))
def test_a_step_is_found_where_it_is(before: list[float], after: list[float]) -> None:
    found = step([*before, *after])

    assert found is not None
    assert found.at == len(before)
    assert 8.0 <= found.size <= 12.0
    assert found.share > 0.9


def test_a_flat_series_has_no_step_worth_the_name() -> None:
    found = step([5.0] * 10)

    assert found is not None
    assert (found.size, found.share) == (0.0, 0.0)


def test_a_series_that_is_too_short_has_no_step() -> None:
    assert step([1.0, 1.0, 9.0, 9.0, 9.0]) is None


def test_the_middle_and_the_scatter_of_nothing_are_not_known() -> None:
    assert math.isnan(middle([]))
    assert math.isnan(scatter([]))


def test_a_day_with_too_few_hours_is_not_known() -> None:
    known_day, poor_day = [1.0] * 24, [2.0] * 6 + [NAN] * 18

    first, second = days([*known_day, *poor_day])

    assert first == 1.0
    assert math.isnan(second)
