"""How fast the ground dries, from morning to morning."""

from collections.abc import Sequence
from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.alarms.rising import DAYS, Mark, Marks, compile_day, marked, rise_kpa_per_day
from parchd.alarms.rules import DecisionWindow
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US

MORNING = DecisionWindow(time(5), time(8), "Europe/Berlin")
DAY = compile_day(MORNING)


def mornings(*days: Sequence[float] | float) -> Marks:
    """The first readings of three hours of each morning, or the same three times."""
    marks: Marks = ()
    for number, day in enumerate(days):
        for hour, kpa in enumerate(day if isinstance(day, tuple) else (day, day, day)):
            marks = marked(marks, START_US + number * DAY_US + hour * HOUR_US, kpa)
    return marks


def rise(*days: Sequence[float] | float) -> float | None:
    return rise_kpa_per_day(mornings(*days), DAY)


def test_ground_that_dries_evenly_dries_by_so_much_a_day() -> None:
    assert rise(20.0, 23.0, 26.0, 29.0) == 3.0


def test_fewer_than_three_mornings_say_nothing() -> None:
    assert rise() is None
    assert rise(20.0) is None
    assert rise(20.0, 29.0) is None
    assert rise(20.0, 23.0, 26.0) == 3.0


def test_one_wild_morning_changes_little() -> None:
    for wild in range(5):
        days = [20.0, 23.0, 26.0, 29.0, 32.0]
        days[wild] += 1.9 if wild < 4 else 40.0  # higher before others it would be taken for water
        assert rise(*days) == pytest.approx(3.0, abs=0.5)


def test_one_wild_hour_changes_nothing() -> None:
    assert rise(20.0, (23.0, 80.0, 23.0), 26.0, (29.0, 29.0, 1.0)) == 3.0


def test_water_begins_it_anew() -> None:
    assert rise(20.0, 30.0, 40.0, 10.0) == -30.0, "the fall itself"
    assert rise(20.0, 30.0, 40.0, 10.0, 12.0) is None
    assert rise(20.0, 30.0, 40.0, 10.0, 12.0, 14.0) == 2.0


def test_noise_is_no_water() -> None:
    assert rise(20.0, 23.0, 21.1, 26.0) == pytest.approx(2.0, abs=0.5)


def test_only_the_last_mornings_count() -> None:
    assert rise(0.0, 20.0, 21.0, 22.0, 23.0, 24.0) == 1.0
    assert len({DAY(mark.hour) for mark in mornings(*range(20))}) <= DAYS + 2


def test_a_day_without_readings_is_bridged() -> None:
    marks = tuple(mark for mark in mornings(20.0, 23.0, 26.0, 29.0) if DAY(mark.hour) != DAY(START_US // HOUR_US) + 1)
    assert rise_kpa_per_day(marks, DAY) == 3.0


def test_the_first_reading_of_an_hour_is_its_mark() -> None:
    marks = marked((), START_US, 20.0)
    assert marked(marks, START_US + 59 * MINUTE_US, 99.0) is marks
    assert marked(marks, START_US - HOUR_US, 99.0) is marks, "nor does an earlier hour come back"
    assert marked(marks, START_US + HOUR_US, 21.0) == (*marks, Mark(START_US // HOUR_US + 1, 21.0))


def test_a_window_over_midnight_is_one_morning() -> None:
    day = compile_day(DecisionWindow(time(22), time(4), "Europe/Berlin"))
    eleven_pm = START_US // HOUR_US - 7
    assert day(eleven_pm) == day(eleven_pm + 4) == day(eleven_pm + 24) - 1


@given(st.floats(0.5, 20.0), st.floats(0.0, 30.0), st.integers(3, 8))
def test_an_even_rise_is_found_wherever_it_begins(step: float, begin: float, count: int) -> None:
    found = rise(*(begin + step * number for number in range(count)))
    assert found == pytest.approx(step)


@given(st.lists(st.floats(0.0, 80.0), max_size=12))
def test_no_mornings_break_it(days: list[float]) -> None:
    found = rise(*days)
    assert found is None or abs(found) <= 80.0
