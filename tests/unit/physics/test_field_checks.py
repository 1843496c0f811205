"""Zero and span checks in the field, drift between calibrations, temperature, and what is in force when."""

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from parchd.physics.calibration import (
    NOMINAL,
    Calibration,
    CalibrationKind,
    Fit,
    TemperatureEffect,
    blend,
    check_off_kpa,
    drift_weight,
    epochs,
    fit,
    rezero,
    span_check,
    straight,
)

REFERENCES = tuple(-10.0 * step for step in range(9))
NOISE = random.Random(7)
POINTS = tuple((0.5 + x * (1.01 + 2e-4 * x) + NOISE.gauss(0.0, 0.05), x) for x in REFERENCES)
LINE, CURVE = fit(POINTS), fit(POINTS, degree=2)
BOTH = pytest.mark.parametrize("before", [LINE, CURVE], ids=["line", "curve"])
NEAR_ZERO = st.floats(-5.0, 5.0)


@settings(deadline=None)
@given(st.sampled_from([LINE, CURVE]), NEAR_ZERO, st.sampled_from([0.0, -5.87]), st.floats(-80.0, -1.0))
def test_a_zero_check_shifts_everything_by_what_it_found(before: Fit, seen: float, at: float, kpa: float) -> None:
    after = rezero(before, seen, at)
    assert after.reference_kpa(seen) == pytest.approx(at, abs=1e-9)
    shift = after.indicated_kpa(kpa) - before.indicated_kpa(kpa)
    assert shift == pytest.approx(seen - before.indicated_kpa(at), abs=1e-9)


@BOTH
def test_a_zero_check_makes_the_zero_sure_and_leaves_the_far_end_as_unsure(before: Fit) -> None:
    after = rezero(before, 0.9, 0.0)
    zero_noise, zero_curve = after.u_parts(0.9)
    assert zero_curve == pytest.approx(zero_noise, rel=1e-9)
    assert after.u_kpa(-80.0) > before.u_kpa(-80.0)
    assert (after.dof, after.span, after.s_kpa) == (before.dof, before.span, before.s_kpa)


@pytest.mark.parametrize("degree", [1, 2])
@pytest.mark.parametrize("check", ["zero", "span"])
def test_what_checks_leave_of_the_uncertainty_is_what_simulation_finds(degree: int, check: str) -> None:
    """Vary points and checks by their noise; the spread of the corrected pressures must be what was worked out."""
    dice, s = random.Random(1), 0.05
    found, worked_out = [], 0.0
    for _ in range(1500):
        points = tuple((0.5 + x * (1.01 + 2e-4 * x * (degree - 1)) + dice.gauss(0.0, s), x) for x in REFERENCES)
        before = fit(points, degree, s_kpa=s)
        top, deep = -19.1 + dice.gauss(0.0, s), -60.0 + dice.gauss(0.0, s)
        after = rezero(before, top, -20.0) if check == "zero" else span_check(before, (top, -20.0), (deep, -60.5))
        found.append(after.reference_kpa(-5.0 + dice.gauss(0.0, s)))
        worked_out = after.u_kpa(-5.0)
    assert np.std(found) == pytest.approx(worked_out, rel=0.06)


@pytest.mark.parametrize("before", [LINE, CURVE], ids=["line", "curve"])
def test_a_span_check_carries_the_covariance_as_small_changes_do(before: Fit) -> None:
    """Move each coefficient and each point a little: J C J' + s^2 v v' by differences."""
    one, other = (-19.1, -20.0), (-75.0, -70.5)

    def moved(step: float, index: int) -> NDArray[np.float64]:
        size = len(before.coefficients)
        changed = tuple(c + step * (i == index) for i, c in enumerate(before.coefficients))
        y1, y2 = one[0] + step * (index == size), other[0] + step * (index == size + 1)
        return np.array(span_check(replace(before, coefficients=changed), (y1, one[1]), (y2, other[1])).coefficients)

    columns = [(moved(1e-6, i) - moved(-1e-6, i)) / 2e-6 for i in range(len(before.coefficients) + 2)]
    jacobian, by_points = np.array(columns[:-2]).T, np.array(columns[-2:]).T
    assert before.s_kpa is not None
    expected = jacobian @ np.array(before.covariance) @ jacobian.T + before.s_kpa**2 * by_points @ by_points.T
    np.testing.assert_allclose(span_check(before, one, other).covariance, expected, rtol=1e-4, atol=1e-12)


@settings(deadline=None)
@given(st.sampled_from([1, 2]), NEAR_ZERO, st.floats(-75.0, -50.0))
def test_a_span_check_goes_through_its_two_points_and_keeps_the_bend(degree: int, zero: float, deep: float) -> None:
    before = LINE if degree == 1 else CURVE
    after = span_check(before, (zero, 0.0), (deep, -60.0))
    assert after.reference_kpa(zero) == pytest.approx(0.0, abs=1e-9)
    assert after.reference_kpa(deep) == pytest.approx(-60.0, abs=1e-9)
    if degree == 2:
        stretch = after.coefficients[1] / before.coefficients[1]
        assert after.coefficients[2] == pytest.approx(stretch * before.coefficients[2], rel=1e-9)


@pytest.mark.parametrize(
    ("other", "says"), [((-0.5, -0.5), "1 kPa apart"), ((-10.0, -60.0), "times as wide"), ((60.0, -60.0), "as wide")]
)
def test_a_span_check_that_makes_no_sense_is_refused(other: tuple[float, float], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        span_check(LINE, (0.0, 0.0), other)


def test_a_check_says_how_far_off_the_calibration_was() -> None:
    assert check_off_kpa(straight(0.5, 1.0), 0.9, 0.0) == pytest.approx(0.4)


@settings(deadline=None)
@given(st.floats(-80.0, 5.0), st.floats(0.0, 1.0))
def test_drift_goes_evenly_from_one_calibration_to_the_next(kpa: float, weight: float) -> None:
    late = rezero(LINE, 1.5, 0.0)
    mixed = blend(LINE, late, weight)
    start, end = LINE.reference_kpa(kpa), late.reference_kpa(kpa)
    assert mixed.reference_kpa(kpa) == pytest.approx(start + weight * (end - start), abs=1e-9)
    assert blend(LINE, late, 0.0).u_kpa(kpa) == pytest.approx(LINE.u_kpa(kpa), rel=1e-12)
    assert blend(LINE, late, 1.0).u_kpa(kpa) == pytest.approx(late.u_kpa(kpa), rel=1e-12)


@settings(deadline=None)
@given(st.floats(-80.0, 5.0), st.floats(0.0, 1.0), st.integers(1, 9))
def test_between_two_calibrations_a_reading_is_as_sure_as_by_the_worse_one(kpa: float, weight: float, m: int) -> None:
    late = rezero(CURVE, 1.5, 0.0)
    assert blend(CURVE, late, weight).u_kpa(kpa, m) <= max(CURVE.u_kpa(kpa, m), late.u_kpa(kpa, m)) * (1 + 1e-12)


def test_a_blend_stands_on_the_weaker_of_its_two_calibrations() -> None:
    short = fit(POINTS[2:7])
    mixed = blend(LINE, short, 0.3)
    assert (mixed.dof, mixed.span) == (3.0, (-60.0, -20.0))
    assert mixed.slope == min(LINE.slope, short.slope)


@pytest.mark.parametrize("weight", [-0.1, 1.1, math.nan])
def test_a_weight_outside_of_the_two_dates_is_refused(weight: float) -> None:
    with pytest.raises(ValueError, match="weight lies between"):
        blend(LINE, CURVE, weight)


def test_the_weight_is_held_at_either_end() -> None:
    times = (0.0, 1_000.0, 1_500.0, 2_000.0, 9_000.0)
    assert [drift_weight(us, 1_000, 2_000) for us in times] == [0.0, 0.0, 0.5, 1.0, 1.0]


@settings(deadline=None)
@given(st.floats(-90.0, 10.0), st.floats(-0.1, 0.1), st.floats(-2e-3, 2e-3), st.floats(-5.0, 50.0))
def test_what_temperature_did_is_undone(kpa: float, zero: float, span: float, transducer_c: float) -> None:
    effect = TemperatureEffect(zero, span, reference_c=22.0)
    at_22 = LINE.indicated_kpa(kpa)
    warmer = transducer_c - 22.0
    seen = LINE.intercept_kpa + zero * warmer + (at_22 - LINE.intercept_kpa) * (1.0 + span * warmer)
    assert effect.at_reference_kpa(seen, transducer_c, LINE.intercept_kpa) == pytest.approx(at_22, abs=1e-9)


@pytest.mark.parametrize("span_per_k", [0.01, -0.02, math.nan])
def test_a_span_cannot_vanish_in_the_sun(span_per_k: float) -> None:
    with pytest.raises(ValueError, match="less than 1 % per kelvin"):
        TemperatureEffect(span_per_k=span_per_k)


WARM = TemperatureEffect(zero_kpa_per_k=0.02)
BENCH = Calibration(1_000, "2026-03-01", POINTS, degree=2, reference_u_kpa=0.1, temperature=WARM)
ZERO = Calibration(2_000, "2026-06-01", ((0.9, 0.0),), kind=CalibrationKind.ZERO, reference_u_kpa=0.02)
SPAN = Calibration(3_000, "2026-08-01", ((0.8, 0.0), (-61.0, -60.0)), kind=CalibrationKind.SPAN, reference_u_kpa=0.3)
FRESH = Calibration(4_000, "2027-03-01", ((0.1, 0.0), (-80.0, -80.0)))


def test_checks_build_on_what_was_in_force_and_a_full_calibration_starts_anew() -> None:
    found = epochs((FRESH, SPAN, ZERO, BENCH))
    assert [epoch.calibration for epoch in found] == [BENCH, ZERO, SPAN, FRESH]
    assert found[1].fit == rezero(found[0].fit, 0.9, 0.0)
    assert found[2].fit == span_check(found[1].fit, *SPAN.points)
    assert found[3].fit == fit(FRESH.points)
    assert [epoch.reference_u_kpa for epoch in found] == [0.1, 0.1, 0.3, 0.0]
    assert [epoch.temperature for epoch in found] == [WARM, WARM, WARM, None]


def test_a_check_without_a_calibration_corrects_the_data_sheet() -> None:
    (only,) = epochs((ZERO,))
    assert only.fit == rezero(NOMINAL, 0.9, 0.0)
    assert only.fit.reference_kpa(-39.1) == pytest.approx(-40.0)


def test_of_two_with_one_date_the_first_holds() -> None:
    assert [epoch.calibration for epoch in epochs((ZERO, replace(ZERO, points=((0.1, 0.0),))))] == [ZERO]


def test_without_calibrations_there_are_no_epochs() -> None:
    assert epochs(()) == ()


@pytest.mark.parametrize(
    ("kind", "points", "says"),
    [
        (CalibrationKind.ZERO, POINTS[:2], "check of the zero takes 1 point, not 2"),
        (CalibrationKind.SPAN, POINTS[:1], "check of the span takes 2 points, not 1"),
    ],
)
def test_a_check_takes_as_many_points_as_its_kind(
    kind: CalibrationKind, points: tuple[tuple[float, float], ...], says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        Calibration(0, "2026-03-01", points, kind=kind).fitted()


def test_what_was_left_out_and_the_runs_come_with_the_record() -> None:
    record = replace(BENCH, left_out=(2,), runs=("up",) * 9, s_kpa=0.2)
    assert record.fitted() == fit(POINTS, 2, ("up",) * 9, (2,), 0.2)
