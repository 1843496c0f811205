import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.calibration import Calibration, Fit, Points, fit, in_force, straight

LINES = st.builds(straight, st.floats(-50.0, 50.0), st.floats(0.5, 2.0))
PRESSURES = st.floats(-100.0, 50.0)


@settings(deadline=None)
@given(LINES, PRESSURES)
def test_a_line_and_its_inverse_undo_each_other(line: Fit, kpa: float) -> None:
    assert line.reference_kpa(line.indicated_kpa(kpa)) == pytest.approx(kpa, abs=1e-9)
    assert line.indicated_kpa(line.reference_kpa(kpa)) == pytest.approx(kpa, abs=1e-9)


@settings(deadline=None)
@given(st.floats(-50.0, 50.0), st.floats(0.51, 1.99), st.lists(st.integers(-95, 10), min_size=2, unique=True))
def test_points_on_a_line_give_that_line(intercept_kpa: float, slope: float, references: list[int]) -> None:
    found = fit(tuple((intercept_kpa + slope * x, float(x)) for x in references))
    assert found.slope == pytest.approx(slope, abs=1e-9)
    assert found.intercept_kpa == pytest.approx(intercept_kpa, abs=1e-7)


@settings(deadline=None)
@given(st.permutations([(0.3, 0.0), (-19.9, -20.0), (-40.3, -40.0), (-59.8, -60.0)]))
def test_the_order_of_points_does_not_matter(points: list[tuple[float, float]]) -> None:
    # By hand: Sxy = 30 * 60.1 + 10 * 20.4 = 2007, Sxx = 2000, means -29.925 and -30.
    line = fit(tuple(points))
    assert line.slope == pytest.approx(1.0035, abs=1e-12)
    assert line.intercept_kpa == pytest.approx(0.18, abs=1e-12)


def test_one_point_is_an_offset_and_says_nothing_about_scatter() -> None:
    offset = fit(((0.4, 0.0),))
    assert (offset.coefficients, offset.s_kpa, offset.n, offset.dof) == ((0.4, 1.0), None, 1, 0.0)


def test_two_points_are_met_exactly_and_say_nothing_about_scatter() -> None:
    line = fit(((0.5, 0.0), (-78.0, -80.0)))
    assert line.reference_kpa(0.5) == pytest.approx(0.0, abs=1e-12)
    assert line.reference_kpa(-78.0) == pytest.approx(-80.0, abs=1e-12)
    assert line.residual_kpa is None


def test_going_up_and_down_over_the_same_references_shows_as_scatter() -> None:
    line = fit(((0.0, 0.0), (-49.0, -50.0), (-51.0, -50.0), (-100.0, -100.0)))
    assert line.slope == pytest.approx(1.0)
    assert line.residual_kpa == pytest.approx(1.0)


NONSENSE: list[tuple[Points, str]] = [
    ((), "at least one point"),
    (((math.nan, 0.0),), "are both numbers in kPa"),
    (((0.0, 0.0), (math.inf, -50.0)), "are both numbers in kPa"),
    (((0.0, 0.0), (-50_000.0, -50.0)), "are both numbers in kPa"),
    (((0.0, -20.0), (0.1, -20.0)), "span 0 kPa: a line needs 1 kPa"),
    (((0.0, 0.0), (-0.5, -0.5), (-0.9, -0.9)), "span 0.9 kPa"),
    (((0.0, 0.0), (80.0, -80.0)), "slope of -1 .* polarity right"),
    (((0.0, 0.0), (-8.0, -80.0)), r"slope of 0\.1 "),
    (((0.0, 0.0), (-200.0, -80.0)), r"slope of 2\.5 "),
]


@pytest.mark.parametrize(("points", "says"), NONSENSE)
def test_points_that_make_no_sense_are_refused_in_a_sentence(points: Points, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        fit(points)


SPRING = Calibration(1_000, "2026-03-01", ((0.2, 0.0),))
SUMMER = Calibration(2_000, "2026-07-01", ((0.3, 0.0),))
AUTUMN = Calibration(3_000, "2026-10-01", ((0.5, 0.0),))


@pytest.mark.parametrize("order", list(itertools.permutations((SPRING, SUMMER, AUTUMN))))
@pytest.mark.parametrize(
    ("time_us", "expected"),
    [
        (999, None),
        (1_000, SPRING),
        (1_999, SPRING),
        (2_000, SUMMER),
        (2_999, SUMMER),
        (3_000, AUTUMN),
        (10**18, AUTUMN),
    ],
)
def test_the_latest_calibration_that_has_begun_is_in_force(
    order: tuple[Calibration, ...], time_us: int, expected: Calibration | None
) -> None:
    assert in_force(order, time_us) is expected


def test_without_a_calibration_none_is_in_force() -> None:
    assert in_force((), 0) is None
