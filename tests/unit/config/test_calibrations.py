"""Calibrations: from points of signal and vacuum to points of pressure, each from its date on."""

from datetime import UTC, datetime

import pytest

from parchd.clock import from_datetime
from parchd.physics.calibration import fit
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
        (calibrated(date="2026-03-01T12:00:00"), "valid_from", "a date without a time of day"),
        (calibrated(date="0001-01-01"), "valid_from", "1990-01-01 or more"),
        (calibrated(more="supply = 5\n"), "supply", "one of by, note, points, supply_v, valid_from"),
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
