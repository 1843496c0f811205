import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.head import tension_kpa
from parchd.physics.levels import Level, column_height_m, height_at_m

WEEK_US = 7 * 86_400_000_000
SERVICES = [
    Level(0, left_m=0.60),
    Level(WEEK_US, left_m=0.60, found_m=0.53),
    Level(2 * WEEK_US, left_m=0.58, found_m=None),
    Level(3 * WEEK_US, left_m=0.60, found_m=0.48),
]


@st.composite
def histories(draw: st.DrawFn) -> list[Level]:
    times = sorted(draw(st.lists(st.integers(0, 10 * WEEK_US), min_size=1, max_size=6, unique=True)))
    left = [draw(st.floats(0.2, 1.0)) for _ in times]
    found = [draw(st.none() | st.floats(0.0, left[max(index - 1, 0)])) for index, _ in enumerate(times)]
    return [Level(time_us, a, b) for time_us, a, b in zip(times, left, found, strict=True)]


@pytest.mark.parametrize(
    ("week", "expected_m"),
    [
        (-1.0, 0.60), (0.0, 0.60), (0.5, 0.565), (1.0, 0.60), (1.9, 0.60), (2.0, 0.58), (2.5, 0.53), (3.0, 0.60),
        (9.0, 0.60),
    ],
)  # fmt: skip
def test_water_falls_evenly_to_what_the_next_service_finds(week: float, expected_m: float) -> None:
    assert height_at_m(SERVICES, round(week * WEEK_US)) == pytest.approx(expected_m, abs=1e-12)


def test_a_service_found_the_level_that_led_to_it() -> None:
    assert height_at_m(SERVICES, WEEK_US - 1) == pytest.approx(0.53, abs=1e-9)
    assert height_at_m([Level(0, left_m=0.6, found_m=0.4)], -1) == 0.4


@settings(deadline=None)
@given(histories(), st.lists(st.integers(-WEEK_US, 11 * WEEK_US), min_size=1, max_size=20))
def test_a_column_of_times_gives_what_each_time_gives(levels: list[Level], times: list[int]) -> None:
    together = height_at_m(levels, np.array(times, dtype=np.int64))
    np.testing.assert_array_equal(together, [height_at_m(levels, time_us) for time_us in times])


@settings(deadline=None)
@given(histories(), st.integers(-WEEK_US, 11 * WEEK_US))
def test_the_water_is_never_above_what_was_left_or_below_what_was_found(levels: list[Level], time_us: int) -> None:
    known = [m for level in levels for m in (level.left_m, level.found_m) if m is not None]
    assert min(known) - 1e-9 <= height_at_m(levels, time_us) <= max(known) + 1e-9


@pytest.mark.parametrize(
    ("levels", "says"),
    [
        ([], "one service"),
        ([Level(5, 0.6), Level(5, 0.6)], "in order of time"),
        ([Level(5, 0.6), Level(4, 0.6)], "in order of time"),
    ],
)
def test_services_that_make_no_sense_are_refused(levels: list[Level], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        height_at_m(levels, 0)


@settings(deadline=None)
@given(st.floats(0.1, 1.5), st.floats(0.0, 1.5))
def test_lost_water_raises_the_tension_that_a_vacuum_stands_for(transducer_m: float, water_m: float) -> None:
    height_m = column_height_m(transducer_m, water_m)
    assert height_m == min(transducer_m, water_m)
    assert tension_kpa(-30.0, height_m, 20.0) >= tension_kpa(-30.0, transducer_m, 20.0)


def test_a_transducer_below_the_cup_has_its_water_whatever_the_surface_does() -> None:
    assert column_height_m(-0.3, 0.1) == -0.3


def test_an_air_pocket_is_taken_per_reading_of_a_column() -> None:
    heights = column_height_m(np.array([0.6, 0.6]), np.array([0.5, 0.7]))
    np.testing.assert_array_equal(heights, [0.5, 0.6])
