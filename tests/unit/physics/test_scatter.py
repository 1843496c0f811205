"""Hysteresis, repeatability, and bad points that are named."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.calibration import Direction, directions, fit

UP = (0.0, -20.0, -40.0, -60.0, -80.0)
CYCLE = (*UP, -60.0, -40.0, -20.0, 0.0)


def test_a_loop_between_up_and_down_is_hysteresis_and_not_repeatability() -> None:
    runs = directions(CYCLE * 2)
    points = tuple((x + (0.2 if run == "down" else 0.0), x) for x, run in zip(CYCLE * 2, runs, strict=True))
    found = fit(points, runs=runs)
    assert found.hysteresis_kpa == pytest.approx(0.2, abs=1e-9)
    assert found.repeatability_kpa == pytest.approx(0.0, abs=1e-9)


def test_the_greatest_difference_at_one_reference_counts() -> None:
    runs: tuple[Direction, ...] = ("up", "up", "up", "down", "down")
    found = fit(((0.0, 0.0), (-40.0, -40.0), (-80.0, -80.0), (-39.5, -40.0), (0.1, 0.0)), runs=runs)
    assert found.hysteresis_kpa == pytest.approx(0.5, abs=1e-9)
    assert found.repeatability_kpa is None


def test_references_set_by_hand_need_not_meet_to_the_last_digit() -> None:
    runs: tuple[Direction, ...] = ("up", "up", "up", "down", "down")
    found = fit(((0.0, 0.0), (-40.3, -40.3), (-80.0, -80.0), (-39.7, -39.7), (0.4, 0.4)), runs=runs)
    assert found.hysteresis_kpa == pytest.approx(0.0, abs=1e-9)


def test_repeatability_is_the_scatter_within_one_direction() -> None:
    points = ((0.0, 0.0), (-50.1, -50.0), (-49.9, -50.0), (-100.0, -100.0))
    found = fit(points, runs=("up", "up", "up", "up"))
    assert found.repeatability_kpa == pytest.approx(0.1 * 2**0.5, abs=1e-9)
    assert found.hysteresis_kpa is None


def test_without_runs_nothing_is_said_of_either() -> None:
    found = fit(((0.0, 0.0), (-50.1, -50.0), (-49.9, -50.0), (-100.0, -100.0)))
    assert (found.hysteresis_kpa, found.repeatability_kpa) == (None, None)


@pytest.mark.parametrize(
    ("references", "expected"),
    [
        ((), ""),
        ((0.0,), "u"),
        ((0.0, -20.0), "uu"),
        ((-20.0, 0.0), "dd"),
        ((0.0, -20.0, -20.0, -40.0), "uuuu"),
        ((0.0, -20.0, -20.0, 0.0), "uuud"),
        ((-20.0, -20.0, -40.0), "uuu"),
        (CYCLE, "uuuuudddd"),
    ],
)
def test_the_order_of_points_tells_their_runs(references: tuple[float, ...], expected: str) -> None:
    assert "".join(run[0] for run in directions(references)) == expected


@settings(deadline=None, max_examples=200)
@given(st.integers(0, 10_000), st.integers(0, 8), st.sampled_from([-1.0, 1.0]), st.floats(1.5, 60.0))
def test_one_bad_point_is_named_whatever_its_size_and_place(seed: int, bad: int, sign: float, kpa: float) -> None:
    dice = random.Random(seed)
    points = [(x + dice.gauss(0.0, 0.05), x) for x in (-10.0 * step for step in range(9))]
    points[bad] = (points[bad][0] + sign * kpa, points[bad][1])
    assert fit(tuple(points)).suspects[:1] == (bad,)


@pytest.mark.parametrize("degree", [1, 2])
def test_clean_calibrations_are_suspected_in_one_case_of_a_hundred_at_most(degree: int) -> None:
    dice = random.Random(3)
    alarms = 0
    for _ in range(1500):
        points = tuple((x + dice.gauss(0.0, 0.2), x) for x in (-10.0 * step for step in range(9)))
        alarms += bool(fit(points, degree).suspects)
    # 15 are expected; 28 would be more than three standard deviations above.
    assert alarms <= 27


def test_a_point_off_by_less_than_a_hand_gauge_shows_is_not_named() -> None:
    points = tuple((x + (0.08 if x == -40.0 else 0.0), x) for x in (-10.0 * step for step in range(9)))
    assert fit(points).suspects == ()


def test_exact_points_but_one_name_that_one() -> None:
    points = tuple((x + (0.5 if x == -40.0 else 0.0), x) for x in (-10.0 * step for step in range(9)))
    assert fit(points).suspects == (4,)


def test_four_points_are_too_few_to_name_a_bad_one_of_moderate_size() -> None:
    assert fit(((0.0, 0.0), (-20.1, -20.0), (-39.0, -40.0), (-60.1, -60.0))).suspects == ()


def test_three_points_name_nobody() -> None:
    assert fit(((0.0, 0.0), (-30.0, -40.0), (-80.0, -80.0))).suspects == ()


def test_positions_count_all_points_given_also_those_left_out() -> None:
    points = [(x, x) for x in (-10.0 * step for step in range(10))]
    points[0], points[7] = (9.0, 0.0), (-60.0, -70.0)
    assert fit(tuple(points), without=[0]).suspects == (7,)
