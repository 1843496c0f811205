"""Calibrations: from points of signal and vacuum to points of pressure, each from its date on."""

from datetime import UTC, datetime

import pytest

from parchd.clock import from_datetime
from parchd.physics.calibration import Calibration, CalibrationKind, TemperatureEffect, epochs, fit
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

POINTS = "[[0.5, 0], [2.1, 40], [3.7, 80]]"


def calibrated(points: str = POINTS, date: str = "2026-03-01", more: str = "") -> str:
    return f"{BASE}\n[[tensiometers.n1.calibration]]\nvalid_from = {date}\npoints = {points}\n{more}"


def test_points_pass_through_the_line_of_the_data_sheet(config: ConfigFolder) -> None:
    (calibration,) = config.load(calibrated()).pipeline.tensiometers[0].calibrations
    assert calibration.label == "2026-03-01"
    for (indicated, reference), (signal, vacuum) in zip(
        calibration.points, [(0.5, 0), (2.1, 40), (3.7, 80)], strict=True
    ):
        assert indicated == pytest.approx(
            -(signal / 5.0 - 0.1) / 0.8 * 100
        )  # facts 3.1: 10 to 90 % of 5 V, 0 to -100 kPa
        assert reference == -vacuum


def test_the_supply_while_calibrating_is_taken_into_account(config: ConfigFolder) -> None:
    text = calibrated("[[0.475, 0], [2.375, 50]]", more="supply_v = 4.75\n")
    (calibration,) = config.load(text).pipeline.tensiometers[0].calibrations
    assert [number for point in calibration.points for number in point] == pytest.approx(
        [0.0, 0.0, -50.0, -50.0]
    )  # facts 3.1: 2.375 V of 4.75 V is -50 kPa


def test_a_calibration_holds_from_the_first_moment_of_its_local_day(config: ConfigFolder) -> None:
    text = calibrated(date="2026-07-01").replace("Europe/Lisbon", "Europe/Berlin")
    (calibration,) = config.load(text).pipeline.tensiometers[0].calibrations
    assert calibration.valid_from_us == from_datetime(datetime(2026, 6, 30, 22, tzinfo=UTC))


def test_calibrations_are_put_in_order_of_time(config: ConfigFolder) -> None:
    text = calibrated(date="2026-03-01") + calibrated(date="2025-03-01").removeprefix(BASE)
    labels = [c.label for c in config.load(text).pipeline.tensiometers[0].calibrations]
    assert labels == ["2025-03-01", "2026-03-01"]


def test_one_point_is_an_offset(config: ConfigFolder) -> None:
    (calibration,) = config.load(calibrated("[[0.516, 0]]")).pipeline.tensiometers[0].calibrations
    assert fit(calibration.points).intercept_kpa == pytest.approx(-0.4)


@pytest.mark.parametrize(
    ("points", "found", "expected"),
    [
        ("[[0.5, 0], [3.7, -80]]", "[3.7, -80]", "vacuum positive"),
        ("[[0.5, 0], [3.7, 800]]", "[3.7, 800]", "0 to 101 kPa"),
        ("[[0, 0.5], [80, 3.7]]", "[0, 0.5], where 0 V is a fault (open circuit)", "signals in V"),
        ("[[500, 0], [3700, 80]]", "[500, 0], where 500 V is a fault (short circuit)", "signals in V"),
        ("[[0.5, 80], [3.7, 0]]", "slope", "a calibration line"),
        ("[[0.5, 10], [3.7, 10]]", "reference", "a calibration line"),
        ("[[0.5, 0], [0.51, 80]]", "slope", "a calibration line"),
        ("[[0.5, -30], [3.7, 60]]", "[0.5, -30]", "vacuum positive"),
    ],
)
def test_a_calibration_without_sense_is_refused(config: ConfigFolder, points: str, found: str, expected: str) -> None:
    text = calibrated(points)
    first, *_ = config.problems(text)
    assert (first.line, first.key) == (line_of(points, text), "tensiometers.n1.calibration[1].points")
    assert found in first.found
    assert expected in first.expected


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        (calibrated("[]"), "points", "at least 1 of them"),
        (calibrated("[[0.5]]"), "points[1]", "2 values"),
        (calibrated("[[0.5, 0, 1]]"), "points[1]", "at most 2 of them"),
        (calibrated('[["0,5", 0]]'), "points[1][1]", "a number"),
        (calibrated(date='"spring"'), "valid_from", "a date such as 2026-03-01"),
        (calibrated(date='"2026-03-01T99"'), "valid_from", "a date such as 2026-03-01"),
        (calibrated(date="09:30:00"), "valid_from", "a date such as 2026-03-01"),
        (calibrated(date="0001-01-01"), "valid_from", "1990-01-01 or more"),
        (
            calibrated(more="supply = 5\n"),
            "supply",
            (
                "one of air_kpa, by, check, degree, drifts, left_out, note, points, reference_u_kpa, runs, "
                "scatter_kpa, span_per_k, supply_v, temperature_c, valid_from, zero_kpa_per_k"
            ),
        ),
        (calibrated(more='check = "offset"\n'), "check", "one of span, zero"),
        (calibrated(more="degree = 3\n"), "degree", "one of 1, 2"),
        (calibrated(more='runs = ["up", "sideways", "down"]\n'), "runs[2]", "one of down, up"),
        (calibrated(more='runs = ["up", "down"]\n'), "runs", "one for each of the 3 points"),
        (calibrated(more="left_out = [0]\n"), "left_out", "numbers of points, 1 to 3"),
        (calibrated(more="left_out = [1, 4]\n"), "left_out", "numbers of points, 1 to 3"),
        (calibrated(more="reference_u_kpa = -1\n"), "reference_u_kpa", "0 or more"),
        (calibrated(more="span_per_k = 0.02\n"), "span_per_k", "less than 0.01"),
    ],
)
def test_a_wrong_key_of_a_calibration_has_its_line(config: ConfigFolder, text: str, key: str, expected: str) -> None:
    problem = config.problem(text)
    assert problem.key == f"tensiometers.n1.calibration[1].{key}"
    assert problem.expected == expected
    assert problem.line == line_of(f"{key.partition('[')[0]} = ", text)


def test_two_calibrations_of_one_date_name_both_places(config: ConfigFolder) -> None:
    text = calibrated() + calibrated().removeprefix(BASE)
    problem = config.problem(text)
    lines = [n for n, line in enumerate(text.splitlines(), 1) if line.startswith("valid_from")]
    assert problem.line == lines[1]
    assert f"farm.toml:{lines[0] - 1}" in problem.expected


def test_a_large_offset_and_points_off_their_line_are_odd(config: ConfigFolder) -> None:
    assert "offset of -12.5 kPa" in config.warning(calibrated("[[1.0, 0], [4.2, 80]]")).found
    assert "off their line" in config.warning(calibrated("[[0.5, 0], [2.4, 40], [3.7, 80]]")).found


FILED = 'calibration_dir = "cal"\n' + BASE


def filed(name: str = "n1", date: str = "2026-03-01", points: str = POINTS) -> str:
    return f'tensiometer = "{name}"\nvalid_from = {date}\npoints = {points}\n'


def test_files_of_a_folder_are_calibrations_too(config: ConfigFolder) -> None:
    config.write("cal/a.toml", filed(date="2025-01-01"))
    config.write("cal/b.toml", filed(date="2024-01-01"))
    config.write("cal/readme.txt", "not this one")
    text = FILED + calibrated().removeprefix(BASE)
    labels = [c.label for c in config.load(text).pipeline.tensiometers[0].calibrations]
    assert labels == ["2024-01-01", "2025-01-01", "2026-03-01"]
    assert config.load(text).calibration_dir == config.folder / "cal"
    assert config.load().calibration_dir is None


@pytest.mark.parametrize(
    ("text", "line", "key"),
    [
        (filed(points="[[80, 0]]"), 3, "points"),
        (filed().replace("points", "point"), 3, "point"),
        ("tensiometer = \n", 1, "syntax"),
        (filed(date="today"), 2, "syntax"),
        ("", None, "tensiometer"),
    ],
)
def test_a_wrong_file_of_the_folder_names_itself(config: ConfigFolder, text: str, line: int | None, key: str) -> None:
    config.write("cal/a.toml", text)
    first, *_ = config.problems(FILED)
    assert (first.file, first.line) == ("cal/a.toml", line)
    assert first.key == key or text == ""


def test_a_file_of_a_tensiometer_that_is_not_there_is_odd(config: ConfigFolder) -> None:
    config.write("cal/a.toml", filed(name="n2"))
    warning = config.warning(FILED)
    assert (warning.file, warning.line, warning.found, warning.hint) == ("cal/a.toml", 1, '"n2"', "there is n1")


def test_a_missing_folder_is_a_problem(config: ConfigFolder) -> None:
    assert config.problem(FILED).key == "calibration_dir"


def test_the_same_date_in_a_file_and_in_a_table_is_refused(config: ConfigFolder) -> None:
    config.write("cal/a.toml", filed())
    assert config.problem(FILED + calibrated().removeprefix(BASE)).file == "cal/a.toml"


def test_points_of_a_current_loop_are_milliamperes(config: ConfigFolder) -> None:
    text = changed('kind = "ratiometric"', 'kind = "current-loop"', calibrated("[[4.1, 0], [12.1, 50]]"))
    (calibration,) = config.load(text).pipeline.tensiometers[0].calibrations
    assert [number for point in calibration.points for number in point] == pytest.approx([-0.625, 0.0, -50.625, -50.0])


UP_AND_DOWN = "[[0.5, 0], [2.11, 40], [3.7, 80], [2.09, 40], [0.5, 0]]"
RUNS = 'runs = ["up", "up", "up", "down", "down"]\n'


def only(config: ConfigFolder, text: str) -> Calibration:
    (calibration,) = config.load(text).pipeline.tensiometers[0].calibrations
    return calibration


def test_all_that_is_known_of_a_calibration_can_be_written(config: ConfigFolder) -> None:
    more = (
        RUNS + "left_out = [4]\nreference_u_kpa = 0.3\nscatter_kpa = 0.1\ndrifts = true\n"
        "zero_kpa_per_k = 0.02\nspan_per_k = 0.0003\ntemperature_c = 23\n"
    )
    calibration = only(config, calibrated(UP_AND_DOWN, more=more))
    assert calibration.runs == ("up", "up", "up", "down", "down")
    assert calibration.left_out == (3,)
    assert (calibration.reference_u_kpa, calibration.s_kpa, calibration.drifts) == (0.3, 0.1, True)
    assert calibration.temperature == TemperatureEffect(0.02, 0.0003, 23.0)
    assert calibration.kind is CalibrationKind.FULL
    assert calibration.fitted().n == 4


def test_runs_up_and_down_tell_the_hysteresis(config: ConfigFolder) -> None:
    fitted = only(config, calibrated(UP_AND_DOWN, more=RUNS)).fitted()
    assert fitted.hysteresis_kpa == pytest.approx(0.5)  # 0.02 V at 25 kPa a volt
    assert only(config, calibrated(UP_AND_DOWN)).fitted().hysteresis_kpa is None


def test_a_curve_is_fitted_when_it_is_asked_for(config: ConfigFolder) -> None:
    points = "[[0.5, 0], [1.31, 20], [2.11, 40], [2.905, 60], [3.7, 80]]"
    assert only(config, calibrated(points, more="degree = 2\n")).fitted().degree == 2
    assert "different references" in config.problem(calibrated("[[0.5, 0], [3.7, 80]]", more="degree = 2\n")).found


@pytest.mark.parametrize(
    ("moment", "utc", "label"),
    [
        ("2026-07-01", datetime(2026, 6, 30, 23, tzinfo=UTC), "2026-07-01"),
        ("2026-07-01T14:30:00", datetime(2026, 7, 1, 13, 30, tzinfo=UTC), "2026-07-01 14:30"),
        ("2026-07-01T14:30:00Z", datetime(2026, 7, 1, 14, 30, tzinfo=UTC), "2026-07-01 15:30"),
        ('"2026-07-01T14:30"', datetime(2026, 7, 1, 13, 30, tzinfo=UTC), "2026-07-01 14:30"),
    ],
)
def test_a_calibration_holds_from_a_day_or_from_a_moment(
    config: ConfigFolder, moment: str, utc: datetime, label: str
) -> None:
    calibration = only(config, calibrated(date=moment))  # Lisbon is an hour ahead of UTC in summer
    assert (calibration.valid_from_us, calibration.label) == (from_datetime(utc), label)


def test_two_of_one_day_go_together_when_one_has_a_time(config: ConfigFolder) -> None:
    more = calibrated("[[0.516, 0]]", date="2026-03-01T14:30:00", more='check = "zero"\n').removeprefix(BASE)
    labels = [c.label for c in config.load(calibrated() + more).pipeline.tensiometers[0].calibrations]
    assert labels == ["2026-03-01", "2026-03-01 14:30"]


def test_a_check_of_the_zero_keeps_the_slope_that_was_found_before(config: ConfigFolder) -> None:
    bent = calibrated("[[0.5, 0], [1.0, 12], [1.5, 24], [2.0, 36]]")
    check = calibrated("[[0.54, 0]]", date="2026-07-01", more='check = "zero"\n').removeprefix(BASE)
    setup = config.load(bent + check).pipeline.tensiometers[0]
    before, after = (epoch.fit for epoch in epochs(setup.calibrations))
    assert after.slope == before.slope == pytest.approx(12.5 / 12)
    assert after.intercept_kpa == pytest.approx(-1.0)  # 0.04 V at 25 kPa a volt, where the first said 0


def test_a_check_takes_as_many_points_as_it_needs(config: ConfigFolder) -> None:
    assert "takes 1 point, not 3" in config.problem(calibrated(more='check = "zero"\n')).found
    assert "takes 2 points, not 1" in config.problem(calibrated("[[0.5, 0]]", more='check = "span"\n')).found
    later = calibrated("[[0.5, 0], [3.7, 30]]", date="2027-01-01", more='check = "span"\n').removeprefix(BASE)
    assert "times as wide" in config.problem(calibrated() + later).found


def test_a_point_that_does_not_belong_is_named_until_it_is_left_out(config: ConfigFolder) -> None:
    points = "[[0.5, 0], [0.9, 10], [1.3, 20], [1.702, 30], [2.6, 40], [2.5, 50], [2.899, 60], [3.3, 70], [3.7, 80]]"
    warning = config.warning(calibrated(points))
    assert warning.found.startswith("point 5, [2.6, 40], ")
    assert warning.hint == "left_out = [5] keeps it on record, unused"
    assert config.warnings(calibrated(points, more="left_out = [5]\n")) == []


def test_pressure_on_a_transducer_below_its_cup_is_a_negative_vacuum(config: ConfigFolder) -> None:
    text = changed("low_kpa = 0\nhigh_kpa = -100", "low_kpa = 50\nhigh_kpa = -50", calibrated("[[2.3, -5], [3.3, 20]]"))
    assert [reference for _, reference in only(config, text).points] == [5.0, -20.0]


def test_an_absolute_transducer_needs_the_pressure_of_the_air(config: ConfigFolder) -> None:
    absolute = 'like = "absolute-kpa"'
    text = changed('kind = "ratiometric"\nlow_kpa = 0\nhigh_kpa = -100', absolute, calibrated("[[98, 0], [58, 40]]"))
    assert config.problem(text).key == "tensiometers.n1.calibration[1].air_kpa"
    ((_, none), (_, pulled)) = only(config, text + "air_kpa = 98.4\n").points
    assert (none, pulled) == pytest.approx((98.4, 58.4))
