"""``parchd calibrate`` in a terminal: points from a board or typed, checks, refusals, and the daemon afterwards."""

import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from parchd.config import load
from parchd.physics.calibration import CalibrationKind, epochs
from parchd.testing.board import Board, bench_config, volts_of
from parchd.testing.commands import parchd
from parchd.testing.dialogue import Dialogue
from parchd.testing.process import DaemonProcess, query, wait_until

ZERO_KPA, SLOPE = 0.8, 1.02
QUICK = ("--steady", "0.2s", "--by", "M. Quill")
MENU = "What now? "


@pytest.fixture
def board() -> Iterator[Board]:
    with Board(zero_kpa=ZERO_KPA, slope=SLOPE) as board:
        yield board


@pytest.fixture
def config(tmp_path: Path, board: Board) -> Path:
    (tmp_path / "cal").mkdir()
    path = tmp_path / "bench.toml"
    path.write_text(bench_config(board.path, 'calibration_dir = "cal"'))
    return path


def calibrating(config: Path, *words: object) -> Dialogue:
    return Dialogue("calibrate", "n1", config.name, *words, folder=config.parent, environ={"LANG": "C.UTF-8"})


def take(person: Dialogue, board: Board, *vacuums: float, first: int = 1) -> None:
    """Set pressures one after another and say what the reference shows."""
    for number, vacuum_kpa in enumerate(vacuums, first):
        at(person, board, f"{number:>3}  reference, kPa: ", vacuum_kpa, f"{vacuum_kpa:g}")


def at(person: Dialogue, board: Board, question: str, vacuum_kpa: float, answer: str) -> None:
    """Set a pressure when a question comes, wait until it has gone through the line, and answer."""
    person.expect(question)
    board.hold(vacuum_kpa)
    time.sleep(0.1)
    person.send(f"{answer}\n")


def written(config: Path) -> dict[str, Any]:
    (path,) = (config.parent / "cal").glob("*.toml")
    return tomllib.loads(path.read_text("utf-8"))


def test_a_transducer_is_calibrated_up_and_down_and_the_daemon_corrects_by_it(board: Board, config: Path) -> None:
    with calibrating(config, *QUICK) as person:
        person.answer("Unit (Enter: kPa): ", "furlong")
        person.expect("no unit of pressure")
        person.answer("Unit (Enter: kPa): ", "kpa")
        person.answer("Accuracy, kPa, or such as 1.6% of 100: ", "0.5% of 100")
        person.expect("never put a tensiometer under pressure")
        take(person, board, 0, 20, 40, 60, 80, 60, 40, 20, 0)
        person.answer(" 10  reference, kPa: ", "d")
        person.expect("5 up and 4 down")
        person.expect("a = -0.8")
        person.expect("hysteresis 0.0")
        person.expect("Uncertainty U (k = 2)")
        person.answer(MENU, "w")
        person.expect("The daemon takes it when it starts.")
        assert person.ended() == 0
    content = written(config)
    assert content["runs"] == ["up"] * 5 + ["down"] * 4
    assert content["reference_u_kpa"] == pytest.approx(0.289, abs=0.001)  # 0.5 over the square root of 3, facts 3.10
    assert (content["by"], content["supply_v"]) == ("M. Quill", 5)
    (epoch,) = epochs(load(config, {}, None).pipeline.tensiometers[0].calibrations)
    assert epoch.fit.slope == pytest.approx(SLOPE, abs=0.002)
    assert epoch.fit.intercept_kpa == pytest.approx(-ZERO_KPA, abs=0.05)
    (picture,) = (config.parent / "records").glob("*_calibration.svg")
    assert "5 up and 4 down" in "".join(ElementTree.parse(picture).getroot().itertext())
    assert not list((config.parent / "records").glob("*.draft"))
    with DaemonProcess(config) as daemon:
        journal = config.parent / "parchd.db"
        board.hold(50.0)
        corrected = "SELECT gauge_kpa FROM journal WHERE abs(gauge_kpa + 50.0) < 0.1"
        assert wait_until(lambda: bool(query(journal, corrected)))
        daemon.stop()


def test_a_bad_point_is_named_left_out_and_kept_on_record(board: Board, config: Path) -> None:
    with calibrating(config, *QUICK, "--reference", "kPa") as person:
        person.answer("Accuracy", "0.1")
        take(person, board, 0, 20, 40, 60)
        at(person, board, "  5  reference, kPa: ", 80.0, "72")  # misread
        take(person, board, 60, 40, 20, 0, first=6)
        person.answer(" 10  reference, kPa: ", "d")
        person.expect("Point 5 (72.0 kPa, up) does not belong to the others")
        person.answer(MENU, "w w")
        person.expect("one of the letters above")
        person.answer(MENU, "x 5")
        person.expect("left out")
        person.expect("8 points, 4 up and 4 down")
        person.answer(MENU, "w")
        assert person.ended() == 0
    assert written(config)["left_out"] == [5]
    assert not [warning for warning in load(config, {}, None).warnings if warning.key.endswith("points")]


def test_points_can_be_taken_back_listed_and_helped_with(board: Board, config: Path) -> None:
    with calibrating(config, *QUICK, "--reference", "inHg") as person:
        person.answer("Accuracy, inHg", "1.6%")
        person.expect("percent of what full scale?")
        person.answer("Accuracy, inHg", "1.6% of 30")
        person.answer("  1  reference, inHg: ", "?")
        person.expect("undo the last point")
        person.answer("  1  reference, inHg: ", "40")
        person.expect("more than the air has to give")
        board.hold(33.86)
        person.answer("  1  reference, inHg: ", "10")
        person.expect("shows")
        person.answer("  2  reference, inHg: ", "u")
        person.expect("10.00 inHg taken back")
        person.answer("  1  reference, inHg: ", "0kpa")
        person.answer("  2  reference, inHg: ", "x 9")
        person.answer("  2  reference, inHg: ", "l")
        person.answer("  2  reference, inHg: ", "d")
        person.expect("No calibration yet: a line needs 3 points or more, not 1")
        person.answer("  2  reference, inHg: ", "q")
        person.answer("Keep the 1 points for later? [Y/n] ", "n")
        assert person.ended() == 1
    assert not list((config.parent / "cal").iterdir())


def test_points_outlive_a_lost_connection(board: Board, config: Path) -> None:
    with calibrating(config, *QUICK, "--reference", "kPa") as person:
        person.answer("Accuracy", "0.1")
        take(person, board, 0, 30)
        person.expect("  3  reference, kPa: ")
    with calibrating(config, *QUICK) as person:
        person.answer("are kept: go on? [Y/n] ", "")
        take(person, board, 60, first=3)
        person.answer("  4  reference, kPa: ", "d")
        person.answer(MENU, "w")
        assert person.ended() == 0
    assert [round(vacuum) for _, vacuum in written(config)["points"]] == [0, 30, 60]


def test_a_signal_that_does_not_come_to_rest_is_taken_on_enter_and_the_gauge_read_again(
    board: Board, config: Path
) -> None:
    board.follow(lambda t: 20.0 + 2.0 * t)
    with calibrating(config, "--steady", "2s", "--reference", "kPa", "--by", "M. Quill") as person:
        person.answer("Accuracy", "0.1")
        person.answer("  1  reference, kPa: ", "20")
        person.expect("still moving")
        person.send("\n")
        person.expect("The pressure moved by")
        person.answer("What does the gauge show now (Enter: still 20.00 kPa)? ", "25.5")
        person.expect("not steady")
        person.answer("  2  reference, kPa: ", "30")
        person.expect("listening")
        person.send("c\n")
        person.expect("not taken")
        person.answer("  2  reference, kPa: ", "q")
        person.answer("[Y/n] ", "")
        assert person.ended() == 1
    (draft,) = (config.parent / "records").glob("*.draft")
    assert tomllib.loads(draft.read_text())["vacuum_kpa"] == [25.5]


def test_a_column_of_water_is_typed_in_with_its_signal(tmp_path: Path) -> None:
    config = tmp_path / "bench.toml"
    config.write_text(bench_config("/dev/none"))
    with calibrating(config, "--typed", "--by", "M. Quill") as person:
        person.answer("Unit", "cm")
        person.answer("Temperature of the water, C (Enter: 20): ", "90")
        person.answer("Temperature of the water, C (Enter: 20): ", "10")
        person.answer("How well do you read its length, to either side (Enter: 3 mm): ", "")
        person.answer("Supply voltage, measured (Enter: 5): ", "")
        for number, (length_cm, kpa) in enumerate(((0, 0.0), (100, 9.8037), (200, 19.6074), (100, 9.8037)), 1):
            person.answer(f"{number:>3}  reference, cm: ", f"{length_cm}")
            person.answer("signal, V", "far")
            person.answer("signal, V", f"{volts_of(kpa) * 1000:.2f} mV")  # facts 1.4: rho g h at 10 C
        person.answer("  5  reference, cm: ", "d")
        person.expect("a = +0.000")
        person.expect("b = +1.0000")
        person.answer(MENU, "w")
        person.expect('calibration_dir = "calibrations"')
        assert person.ended() == 0
    (path,) = (tmp_path / "calibrations").glob("*.toml")
    assert tomllib.loads(path.read_text())["points"][1][1] == pytest.approx(9.8037, abs=1e-4)
    config.write_text('calibration_dir = "calibrations"\n' + config.read_text())
    assert len(load(config, {}, None).pipeline.tensiometers[0].calibrations) == 1


def test_a_unit_that_was_mixed_up_is_refused_with_a_guess(board: Board, config: Path) -> None:
    with calibrating(config, *QUICK, "--reference", "kPa") as person:
        person.answer("Accuracy", "0.1")
        for number, inches in enumerate((0, 10, 20), 1):
            at(person, board, f"{number:>3}  reference, kPa: ", 3.3864 * inches, f"{inches}")
        person.answer("  4  reference, kPa: ", "d")
        person.expect("inHg: was that meant?")
        person.answer("  4  reference, kPa: ", "\x04")
    assert not list((config.parent / "cal").iterdir())


def test_the_zero_is_set_anew_with_the_cup_in_water(board: Board, config: Path) -> None:
    board.hold(5.8734)  # what 60 cm of water make at 20 C: facts 1.4
    with calibrating(config, "--zero", *QUICK) as person:
        person.expect("it must show 5.87 kPa")
        person.answer("Where is it? ", "here")
        person.answer("Where is it? ", "w")
        person.expect("its zero is off by +0.92 kPa")  # 0.8 and 2 % of 5.87
        person.answer("Write it? [Y/n] ", "")
        person.expect("parchd service -t n1 -w re-zero")
        assert person.ended() == 0
    content = written(config)
    assert content["check"] == "zero"
    (calibration,) = load(config, {}, None).pipeline.tensiometers[0].calibrations
    assert calibration.kind is CalibrationKind.ZERO
    with calibrating(config, "--zero", *QUICK) as person:
        person.answer("Where is it? ", "w")
        person.expect("next to nothing")
        person.answer("Write it? [y/N] ", "")
        person.expect("nothing was written")
        assert person.ended() == 1


def test_zero_and_span_are_checked_by_two_pressures(board: Board, config: Path) -> None:
    with calibrating(config, "--check", "--reference", "kPa", *QUICK) as person:
        person.answer("Accuracy", "0.1")
        at(person, board, "Reference shows, kPa: ", 0.0, "0")
        at(person, board, "Reference shows, kPa: ", 60.0, "60")
        person.expect("Its slope changes by +2.0")
        person.answer("Write it? [Y/n] ", "y")
        assert person.ended() == 0
    (epoch,) = epochs(load(config, {}, None).pipeline.tensiometers[0].calibrations)
    assert epoch.fit.reference_kpa(-(ZERO_KPA + SLOPE * 30.0)) == pytest.approx(-30.0, abs=0.05)


@pytest.mark.parametrize(("vacuums", "said"), [((0, 10), "10.0 kPa apart"), ((0, 60), "times as wide cannot be right")])
def test_a_check_without_sense_writes_nothing(
    board: Board, config: Path, vacuums: tuple[float, float], said: str
) -> None:
    with calibrating(config, "--check", "--reference", "kPa", *QUICK) as person:
        person.answer("Accuracy", "0.1")
        for vacuum_kpa in vacuums:
            true_kpa = vacuum_kpa / (3.0 if vacuum_kpa > 20 else 1.0)
            at(person, board, "Reference shows, kPa: ", true_kpa, f"{vacuum_kpa}")
        person.expect(said)
        assert person.ended() == 1
    assert not list((config.parent / "cal").iterdir())


def test_a_zero_that_is_far_off_is_no_drift(board: Board, config: Path) -> None:
    board.hold(40.0)
    with calibrating(config, "--zero", *QUICK) as person:
        person.answer("Where is it? ", "a")
        person.expect("that is no drift")
        assert person.ended() == 1
    assert not list((config.parent / "cal").iterdir())


def test_beside_the_daemon_it_says_how_to_reload_and_the_daemon_takes_it(board: Board, config: Path) -> None:
    board.hold(0.0)
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        with calibrating(config, "--zero", "--steady", "1s", "--by", "M. Quill") as person:
            person.answer("Where is it? ", "a")
            person.answer("Write it? [Y/n] ", "")
            person.expect("systemctl reload parchd")
            assert person.ended() == 0
        daemon.hang_up()
        journal = config.parent / "parchd.db"
        assert wait_until(
            lambda: bool(query(journal, "SELECT 1 FROM journal WHERE calibration != '' AND abs(gauge_kpa) < 0.1"))
        )
        assert daemon.stop() == 0


def test_without_a_terminal_nothing_is_asked(config: Path) -> None:
    said = parchd("calibrate", "n1", config)
    assert said.code == 1
    assert "start it in a terminal" in said.err
