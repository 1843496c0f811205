"""Fitted curves: second degree, points left out, known scatter, span."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.calibration import Direction, Fit, Points, fit, straight

REFERENCES = tuple(-10.0 * step for step in range(9))
PRESSURES = st.floats(-150.0, 60.0)
CLEAN = tuple((0.5 + 1.01 * x, x) for x in REFERENCES)
BENT = tuple((0.5 + 1.01 * x + 4e-4 * x * x, x) for x in REFERENCES)


@st.composite
def curves(draw: st.DrawFn) -> Fit:
    """Curves of both degrees through scattered points."""
    degree = draw(st.sampled_from([1, 2]))
    offset, slope = draw(st.floats(-5.0, 5.0)), draw(st.floats(0.8, 1.2))
    bend = draw(st.floats(-8e-4, 8e-4)) if degree == 2 else 0.0
    errors = draw(st.lists(st.floats(-0.2, 0.2), min_size=9, max_size=9))
    points = [(offset + x * (slope + bend * x) + error, x) for x, error in zip(REFERENCES, errors, strict=True)]
    return fit(tuple(points), degree)


@settings(deadline=None)
@given(curves(), PRESSURES)
def test_a_curve_and_its_inverse_undo_each_other_within_the_span_and_beyond(curve: Fit, kpa: float) -> None:
    assert curve.reference_kpa(curve.indicated_kpa(kpa)) == pytest.approx(kpa, abs=1e-9)
    assert curve.indicated_kpa(curve.reference_kpa(kpa)) == pytest.approx(kpa, abs=1e-9)


@settings(deadline=None)
@given(curves(), PRESSURES, st.floats(0.01, 50.0))
def test_more_pressure_is_always_a_higher_indication(curve: Fit, kpa: float, more: float) -> None:
    assert curve.indicated_kpa(kpa + more) > curve.indicated_kpa(kpa)
    assert curve.reference_kpa(kpa + more) > curve.reference_kpa(kpa)


def test_a_bent_transducer_needs_a_curve() -> None:
    line, curve = fit(BENT), fit(BENT, degree=2)
    assert curve.coefficients == pytest.approx((0.5, 1.01, 4e-4), abs=1e-10)
    assert curve.reference_kpa(BENT[4][0]) == pytest.approx(-40.0, abs=1e-9)
    assert abs(line.reference_kpa(BENT[4][0]) + 40.0) > 0.2


def test_beyond_its_span_a_curve_goes_on_along_its_tangent() -> None:
    curve = fit(BENT, degree=2)
    slope = 1.01 - 2 * 4e-4 * 80.0
    assert curve.indicated_kpa(-90.0) == pytest.approx(curve.indicated_kpa(-80.0) - 10.0 * slope, abs=1e-9)


@settings(deadline=None)
@given(curves(), PRESSURES, st.integers(1, 50))
def test_the_mean_of_several_readings_is_known_better(curve: Fit, kpa: float, m: int) -> None:
    assert curve.u_kpa(kpa, m + 1) <= curve.u_kpa(kpa, m)
    noise, rest = curve.u_parts(kpa, m)
    assert math.hypot(noise, rest) == pytest.approx(curve.u_kpa(kpa, m), rel=1e-9)


@settings(deadline=None)
@given(curves().filter(lambda curve: curve.degree == 1 and curve.residual_kpa != 0.0))
def test_a_line_is_known_best_among_its_points(line: Fit) -> None:
    middle, end, beyond = (line.u_kpa(line.indicated_kpa(x)) for x in (-40.0, -80.0, -100.0))
    assert 0.0 < middle < end < beyond


def test_few_points_say_nothing_about_their_scatter_unless_it_is_known() -> None:
    with pytest.raises(ValueError, match="say nothing about their scatter"):
        fit(CLEAN[:2]).u_kpa(-5.0)
    known = fit(CLEAN[:2], s_kpa=0.05)
    assert known.dof == math.inf
    assert known.u_kpa(CLEAN[0][0]) == pytest.approx(math.hypot(0.05, 0.05) / 1.01, abs=1e-9)
    offset = fit(CLEAN[:1], s_kpa=0.05)
    assert offset.dof == math.inf
    assert offset.u_kpa(-30.0) == pytest.approx(0.05 * math.sqrt(2.0))


def test_a_point_can_be_left_out_and_stays_on_record() -> None:
    spoilt = (*CLEAN[:4], (CLEAN[4][0] + 10.0, CLEAN[4][1]), *CLEAN[5:])
    cured = fit(spoilt, without=[4])
    assert (cured.n, cured.left_out, cured.suspects) == (8, (4,), ())
    assert cured.coefficients == pytest.approx((0.5, 1.01), abs=1e-9)
    assert cured.residuals_kpa[4] == pytest.approx(10.0, abs=1e-9)


def test_residuals_stand_in_the_order_of_the_points() -> None:
    found = fit(((0.0, 0.0), (-50.2, -50.0), (-99.9, -100.0)))
    assert [y - found.indicated_kpa(x) for y, x in ((0.0, 0.0), (-50.2, -50.0), (-99.9, -100.0))] == pytest.approx(
        found.residuals_kpa, abs=1e-12
    )


def test_the_span_ends_at_the_outermost_points_that_were_used() -> None:
    found = fit(CLEAN, without=[8])
    assert found.span == (-70.0, 0.0)
    assert [found.inside_span(kpa) for kpa in (-70.1, -70.0, 0.0, 0.1)] == [False, True, True, False]
    assert found.inside_span(-72.0, margin_kpa=2.0)
    np.testing.assert_array_equal(found.inside_span(np.array([-70.1, -10.0])), [False, True])


PEAK = tuple((-0.012 * x * x - 0.15 * x, x) for x in REFERENCES)
TRIPLE: tuple[Direction, ...] = ("up", "up", "down")

NONSENSE: list[tuple[Points, dict[str, object], str]] = [
    (CLEAN, {"degree": 3}, "degree 1 or 2"),
    (CLEAN, {"degree": 0}, "degree 1 or 2"),
    (CLEAN, {"runs": TRIPLE}, "9 calibration points need as many runs, not 3"),
    (CLEAN, {"without": [9]}, "no calibration point 9"),
    (CLEAN, {"without": [-1]}, "no calibration point -1"),
    (CLEAN, {"without": range(9)}, "all calibration points are left out"),
    (CLEAN[:2], {"degree": 2}, "a curve needs 3 different references at least, not 2"),
    (CLEAN[:2] * 3, {"degree": 2}, "a curve needs 3 different references at least, not 2"),
    (CLEAN[:1], {"degree": 2}, "span 0 kPa"),
    (PEAK, {"degree": 2}, "not monotone over its span"),
]


@pytest.mark.parametrize(("points", "how", "says"), NONSENSE)
def test_a_fit_that_cannot_be_is_refused_in_a_sentence(points: Points, how: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        fit(points, **how)  # type: ignore[arg-type]  # the table mixes arguments


def test_a_line_taken_as_given_says_nothing_about_its_scatter() -> None:
    line = straight(0.5, 1.0)
    assert (line.n, line.dof, line.s_kpa, line.residual_kpa) == (0, 0.0, None, None)
    assert (line.intercept_kpa, line.slope, line.degree) == (0.5, 1.0, 1)
