"""A calibration while it is made: its points, what is refused, what is said, drawn and written."""

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.config import load
from parchd.physics.calibration import epochs
from parchd.physics.reference import Reference as Against
from parchd.physics.transducers import DirectPressure, Ratiometric
from parchd.pipeline.setup import TensiometerSetup
from parchd.testing.board import bench_config
from parchd.testing.site import START_US, tensiometer
from parchd.units import KPA_PER
from parchd.workbench import calibrating_words as words
from parchd.workbench.calibrating import Capture, Reading, Session, Taken
from parchd.workbench.calibrating_chart import check_chart, residual_chart
from parchd.workbench.calibrating_draft import draft_path, drop_draft, load_draft, save_draft
from parchd.workbench.calibrating_file import check_text, full_text
from parchd.workbench.calibrating_judge import bend, odd_slope, refusal
from parchd.workbench.calibrating_reference import Reference, parse_half_kpa, parse_reference_unit
from parchd.workbench.chart import Look
from parchd.workbench.live import LiveSample
from parchd.workbench.live_steady import Limits
from parchd.workbench.live_typed import TypedError

N1 = replace(tensiometer("n1-30", "a0", Ratiometric(0.0, -100.0), height_m=0.6), channel="board/a0")
N1 = replace(N1, place=replace(N1.place, tensiometer="n1"))
GAUGE = Reference("kPa", half_kpa=0.5)
NOON = datetime(2026, 5, 14, 12, 0, tzinfo=UTC).replace(tzinfo=None)
UP_AND_DOWN = (0, 20, 40, 60, 80, 60, 40, 20, 0)
Shown = Callable[[float], float]


def session(
    vacuums: Sequence[float] = UP_AND_DOWN,
    shown: Shown = lambda kpa: 0.4 + 1.01 * kpa,
    *,
    sigma: float = 0.03,
    setup: TensiometerSetup = N1,
    supply_v: float = 5.0,
) -> Session:
    """Points of a ratiometric transducer that shows so much at a vacuum."""
    rng, made = random.Random(3), Session(setup)
    for kpa in vacuums:
        share = 0.1 + 0.8 * (shown(kpa) + rng.gauss(0.0, sigma)) / 100.0
        made.add(Taken(float(kpa), Reading(share * supply_v, supply_v, 101.0)))
    return made


# --- points


def test_a_session_finds_the_line_that_its_points_were_made_of() -> None:
    fit = session().fitted()
    assert fit.slope == pytest.approx(1.01, abs=0.002)
    assert fit.intercept_kpa == pytest.approx(-0.4, abs=0.05)
    assert refusal(session(), GAUGE) == ""


def test_runs_are_told_from_the_order() -> None:
    assert session().runs == ("up",) * 5 + ("down",) * 4


def test_a_supply_that_sags_between_points_changes_nothing() -> None:
    still, sagging = session(sigma=0.0), Session(N1)
    for number, point in enumerate(still.taken):
        factor = 1.0 - 0.01 * number
        reading = replace(point.reading, signal=point.reading.signal * factor, supply_v=5.0 * factor)
        sagging.add(replace(point, reading=reading))
    assert sagging.supply_v == pytest.approx(4.8)
    assert [y for y, _ in sagging.points] == pytest.approx([y for y, _ in still.points])


def test_air_that_changes_between_points_of_an_absolute_transducer_is_taken_into_account() -> None:
    setup = tensiometer("a-1", "a", DirectPressure(reference=Against.ABSOLUTE))
    made = Session(setup)
    for kpa, air_kpa in ((0.0, 100.0), (40.0, 100.2), (80.0, 100.4)):
        made.add(Taken(kpa, Reading(air_kpa - kpa, 0.0, air_kpa)))
    fit = made.fitted()
    assert fit.intercept_kpa == pytest.approx(0.0, abs=1e-9)
    assert fit.slope == pytest.approx(1.0)
    assert made.air_kpa == 100.2


def test_the_last_point_can_be_taken_back_and_any_left_out() -> None:
    made = session()
    made.left_out = {8, 2}
    undone = made.undo()
    assert undone is not None
    assert undone.vacuum_kpa == 0.0
    assert made.left_out == {2}
    assert made.fitted().n == 7
    assert Session(N1).undo() is None


# --- taking the signal


def live(second: float, kpa: float, trouble: str = "") -> LiveSample:
    from parchd.contract import Unit

    signal = None if trouble else 5.0 * (0.1 + 0.8 * kpa / 100.0)
    value = None if trouble else -kpa
    return LiveSample(
        START_US + round(second * 1e6), signal, Unit.V, signal, 5.0, value, kpa, kpa, trouble, 101.0
    )  # fmt: skip


def test_a_reading_is_the_median_of_the_steady_stretch_and_knows_how_far_it_came() -> None:
    capture = Capture(Limits(window_s=5.0))
    for second in range(40):
        capture.take(live(second, 40.0 if second > 20 else 2.0 * second))
    reading = capture.reading()
    assert reading.steady
    assert reading.signal == pytest.approx(2.1)
    assert reading.moved_kpa == pytest.approx(38.0)


def test_a_reading_taken_before_it_rests_says_so() -> None:
    capture = Capture(Limits(window_s=30.0))
    for second in range(10):
        capture.take(live(second, 40.0 + second))
    assert not capture.reading().steady


def test_samples_without_a_value_do_not_count() -> None:
    capture = Capture(Limits())
    capture.take(live(0, 0.0, "open circuit"))
    assert (capture.count, capture.trouble) == (0, "open circuit")


# --- references


@given(st.sampled_from(sorted(KPA_PER)), st.floats(0.001, 50.0))
def test_every_unit_of_a_gauge_is_read_back_as_it_is_written(unit: str, kpa: float) -> None:
    gauge = Reference(unit)
    assert gauge.parse_kpa(f"{kpa / KPA_PER[unit]!r}") == pytest.approx(kpa)
    assert gauge.parse_kpa(f"-{kpa!r} kPa") == pytest.approx(kpa)


@pytest.mark.parametrize(
    ("unit", "text", "water_c", "kpa"),
    [
        ("cm", "100", 20.0, 9.7891), ("cm", "100", 4.0, 9.8064), ("cm", "0.6 m", 30.0, 5.8584),  # facts 1.4
        ("in", "39 3/8", 20.0, 9.7891 * 1.000125), ("cmH2O", "100", 30.0, 9.80665),  # facts 1.8: conventional
        ("inHg", "10", 20.0, 33.86389), ("psi", "2", 20.0, 13.789514), ("mmHg", "100", 20.0, 13.3322),
    ],
)  # fmt: skip
def test_columns_and_gauges_are_kilopascals(unit: str, text: str, water_c: float, kpa: float) -> None:
    assert Reference(unit, water_c).parse_kpa(text) == pytest.approx(kpa, rel=2e-5)


@pytest.mark.parametrize(
    ("unit", "text", "said"),
    [("kPa", "150", "more than the air has to give"), ("cm", "2000", "more than the air"),
     ("cm", "10 kPa", "no length"), ("kPa", "ten", "no number"), ("kPa", "10 foo", "no unit of pressure"),
     ("kPa", "", "no number")],
)  # fmt: skip
def test_what_no_reference_shows_is_refused(unit: str, text: str, said: str) -> None:
    with pytest.raises(TypedError, match=said):
        Reference(unit).parse_kpa(text)


def test_accuracy_is_a_half_width_and_becomes_a_standard_uncertainty() -> None:
    half = parse_half_kpa("0.5% of 100", Reference("kPa"))
    assert Reference("kPa", half_kpa=half).u_kpa == pytest.approx(0.289, abs=5e-4)  # facts 3.10
    with pytest.raises(TypedError, match="of what full scale"):
        parse_half_kpa("0.5 %", Reference("kPa"))
    with pytest.raises(TypedError, match="of no use"):
        parse_half_kpa("20", Reference("kPa"))


def test_an_unknown_unit_lists_those_that_are() -> None:
    with pytest.raises(TypedError, match="known are kPa, Pa, hPa"):
        parse_reference_unit("bars")


# --- what is refused


@pytest.mark.parametrize(
    ("made", "why"),
    [
        (session((0, 20)), "3 points or more, not 2; two points say nothing of their own errors"),
        (session((0, 40, 40, 0)), "3 different pressures or more, not 2"),
        (session((0, 20, 40, 60)).at_degree(2), "a curve needs 5 points or more, not 4"),
        (session((0, 20, 40, 20, 0)).at_degree(2), "a curve needs 4 different pressures"),
        (session((0, 5, 10, 19)), "the points span 19.0 kPa only"),
        (session((0, 10, 20), lambda kpa: 3.386 * kpa), "would fit a reference in inHg"),
        (session((0, 10, 20), lambda kpa: 0.1 * kpa, sigma=0.0), "would fit a reference in hPa"),
        (session((0, 10, 20), lambda kpa: 4.3 * kpa), "about 1 is expected. Else look at the transducer's range"),
        (session((0, 20, 40), lambda kpa: 60.0 - kpa), "low_kpa and high_kpa of its transducer are swapped"),
        (session((0, 20, 40), lambda _kpa: 3.0), "does not move with the pressure"),
        (
            session((0, 20, 40, 60), lambda kpa: {20: 41.0, 40: 21.0}.get(int(kpa), kpa)),
            "raised from 20.0 to 40.0 kPa (points 2 and 3)",
        ),
    ],
)
def test_nonsense_is_refused_with_the_reason(made: Session, why: str) -> None:
    assert why in refusal(made, GAUGE)


def test_two_metres_of_water_are_span_enough() -> None:
    column = Reference("cm", 20.0)
    assert refusal(session([column.kpa(length) for length in (0, 50, 100, 150, 200)]), column) == ""


def test_a_column_in_inches_taken_for_centimetres_is_guessed() -> None:
    column = Reference("cm", 20.0)
    made = session([column.kpa(length) for length in (0, 100, 200)], lambda kpa: 2.54 * kpa)
    assert "would fit a reference in in" in refusal(made, column)


@given(st.floats(0.6, 1.7), st.floats(-3.0, 3.0), st.permutations([0, 20, 40, 60, 80]))
def test_a_straight_transducer_is_never_refused_in_whatever_order(
    slope: float, zero: float, order: list[float]
) -> None:
    made = session(order, lambda kpa: zero + slope * kpa, sigma=0.0)
    assert refusal(made, GAUGE) == ""
    assert made.fitted().slope == pytest.approx(slope)


def test_a_slope_far_from_one_is_pointed_out() -> None:
    assert odd_slope(session().fitted()) == ""
    assert "shows 1.300 kPa for each kPa" in odd_slope(session(shown=lambda kpa: 1.3 * kpa, sigma=0.0).fitted())


# --- what is said


def test_a_bad_point_is_named_with_what_the_others_say() -> None:
    made = session()
    made.taken[3] = replace(made.taken[3], vacuum_kpa=52.0)
    fit = made.fitted()
    assert fit.suspects == (3,)
    said = words.suspect_words(made, fit, made.fitted(without=[3]))
    assert said.startswith("Point 4 (52.0 kPa, up) does not belong to the others: it is 8.0")
    assert "the slope 1.0098 instead of 1.0337" in said


def test_a_curve_is_called_for_only_where_the_points_bend_surely() -> None:
    straight, bent = (
        session(),
        session((0, 10, 20, 40, 60, 80, 60, 40, 20, 0), lambda kpa: 1.01 * kpa + 2e-4 * kpa * kpa),
    )
    assert words.bend_words(straight) == ""
    found = bend(bent)
    assert found is not None
    assert found.kpa == pytest.approx(2e-4 * 80.0**2 / 8.0, rel=0.2)
    assert "bend by 0.1" in words.bend_words(bent)
    assert "A curve is not called for" in words.bend_words(straight.at_degree(2))
    assert words.bend_words(bent.at_degree(2)) == ""
    assert bend(session((0, 20, 40))) is None


def test_the_summary_has_coefficients_scatter_hysteresis_and_uncertainty() -> None:
    made = session()
    text = " ".join(words.summary(made, made.fitted(), GAUGE))
    assert "9 points, 5 up and 4 down, 0.0 to 80.0 kPa of vacuum, by gauge in kPa, +/-0.5 kPa; supply 5.000 V." in text
    assert "a = -0.4" in text
    assert "b = +1.0" in text
    assert "hysteresis 0.0" in text
    assert "0.58 at 10 kPa, 0.58 at 30 kPa, 0.58 at 60 kPa (reference makes most of it)" in text  # 2 x 0.5/sqrt(3)


def test_a_narrow_span_is_told_its_uncertainty_where_it_has_points() -> None:
    made = session((0, 10, 20))
    assert "at 4 kPa" in words.uncertainty(made, made.fitted(), GAUGE)
    assert "at 20 kPa" in words.uncertainty(made, made.fitted(), GAUGE)


def test_one_run_only_says_that_hysteresis_is_unknown() -> None:
    made = session((0, 20, 40, 60))
    assert "hysteresis unknown" in " ".join(words.summary(made, made.fitted(), GAUGE))


def test_the_picture_of_residuals_tells_runs_left_out_and_suspects_by_shape() -> None:
    made = session()
    made.taken[3] = replace(made.taken[3], vacuum_kpa=52.0)
    looks = [series.look for series in residual_chart(made, made.fitted(), "n1").series]
    assert looks == [Look.FITTED, Look.UP, Look.DOWN, Look.SUSPECT]
    made.left_out = {3}
    drawn = residual_chart(made, made.fitted(), "n1")
    assert [series.look for series in drawn.series] == [Look.FITTED, Look.UP, Look.DOWN, Look.LEFT_OUT]
    assert drawn.y_span.high < 0.5, "what is left out does not flatten the others"


def test_a_point_that_shows_too_much_lies_above() -> None:
    made = session((0, 20, 40, 60, 80), lambda kpa: kpa + (0.2 if kpa == 40 else 0.0), sigma=0.0)
    (series,) = [series for series in residual_chart(made, made.fitted(), "n1").series if series.look is Look.UP]
    assert max(series.points, key=lambda point: point[1])[0] == 40.0


def test_the_picture_of_a_check_shows_what_is_corrected() -> None:
    made = session((0, 60), sigma=0.0)
    before, after = session(shown=lambda kpa: kpa, sigma=0.0).fitted(), made.fitted()
    drawn = check_chart(made, before, after, "check")
    line, checked = drawn.series
    assert [y for _, y in line.points] == pytest.approx([0.4, 0.4 + 0.8])
    assert [y for _, y in checked.points] == pytest.approx([0.4, 1.0])
    assert "+0.40 kPa at 0.0 kPa, +1.00 kPa at 60.0 kPa" in drawn.notes[0]


# --- files


def loaded_setup(folder: Path, name: str, text: str) -> TensiometerSetup:
    (folder / "cal").mkdir(exist_ok=True)
    (folder / "cal" / name).write_text(text)
    config = folder / "bench.toml"
    config.write_text(bench_config("/dev/none", 'calibration_dir = "cal"'))
    (setup,) = load(config, {}, None).pipeline.tensiometers
    return setup


def test_the_configuration_reads_from_the_file_what_was_fitted(tmp_path: Path) -> None:
    made = session(supply_v=4.9)
    made.left_out = {4}
    text = full_text(made, GAUGE, date(2026, 5, 14), 'M. "Quill"')
    (epoch,) = epochs(loaded_setup(tmp_path, "a.toml", text).calibrations)
    fit = made.fitted()
    assert epoch.fit.coefficients == pytest.approx(fit.coefficients, abs=1e-5)
    assert epoch.fit.residuals_kpa == pytest.approx(fit.residuals_kpa, abs=1e-4)
    assert (epoch.fit.n, epoch.fit.left_out) == (8, (4,))
    assert epoch.fit.hysteresis_kpa == pytest.approx(fit.hysteresis_kpa, abs=1e-4)
    assert epoch.reference_u_kpa == pytest.approx(0.2887, abs=1e-3)
    assert epoch.calibration.label == "2026-05-14"


def test_a_curve_and_a_check_of_it_are_read_too(tmp_path: Path) -> None:
    bent = session(shown=lambda kpa: kpa + 2e-4 * kpa * kpa).at_degree(2)
    loaded_setup(tmp_path, "a.toml", full_text(bent, GAUGE, date(2026, 5, 14), ""))
    zero = session((0,), lambda _kpa: 0.7, sigma=0.0)
    setup = loaded_setup(tmp_path, "b.toml", check_text(zero, "zero", None, NOON, ""))
    curve, shifted = (epoch.fit for epoch in epochs(setup.calibrations))
    assert curve.degree == shifted.degree == 2
    assert shifted.coefficients[2] == curve.coefficients[2]
    assert shifted.indicated_kpa(0.0) == pytest.approx(-0.7, abs=1e-4)


def test_points_that_are_kept_are_found_again(tmp_path: Path) -> None:
    made, begun = session(), datetime(2026, 5, 14, 15, 2, tzinfo=UTC)
    made.left_out = {1}
    path = draft_path(tmp_path, N1)
    save_draft(path, made, Reference("inHg", 18.0, 0.4), begun)
    found = load_draft(path, N1)
    assert found is not None
    kept, reference, when = found
    assert kept.taken == made.taken
    assert (kept.left_out, reference, when) == ({1}, Reference("inHg", 18.0, 0.4), begun)
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name]
    drop_draft(path)
    assert load_draft(path, N1) is None
    drop_draft(path)


@pytest.mark.parametrize("text", ["", "begun = 3", "not toml", 'signal_unit = "mA"\n'])
def test_a_file_that_holds_no_points_is_passed_over(tmp_path: Path, text: str) -> None:
    path = draft_path(tmp_path, N1)
    path.write_text(text)
    assert load_draft(path, N1) is None
