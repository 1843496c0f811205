"""``parchd prove`` in a terminal, with a board on a serial line, beside a daemon, and by hand."""

import json
import math
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest

from parchd.testing.board import Board, bench_config
from parchd.testing.broker import Mosquitto
from parchd.testing.commands import parchd
from parchd.testing.dialogue import Dialogue
from parchd.testing.farm import farm, mqtt_source
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher

HEAD_KPA = 5.8734  # 60 cm at 20 C, facts 1.4
FAST = ("--time-limit", "2.5s", "--by", "M. Quill")


@pytest.fixture
def board() -> Iterator[Board]:
    with Board() as board:
        yield board


@pytest.fixture
def config(tmp_path: Path, board: Board) -> Path:
    path = tmp_path / "bench.toml"
    path.write_text(bench_config(board.path))
    return path


def proving(config: Path, *words: object, **more: str) -> Dialogue:
    return Dialogue("prove", "n1", config.name, *words, folder=config.parent, environ={"LANG": "C.UTF-8", **more})


def record(folder: Path, test: str) -> dict[str, object]:
    (path,) = (folder / "records").glob(f"*_n1_{test}.toml")
    picture = ElementTree.parse(path.with_suffix(".svg"))
    words = "".join(picture.getroot().itertext())
    content = tomllib.loads(path.read_text("utf-8"))
    assert str(content["headline"]) in words.replace("\n", " ") or len(str(content["headline"])) > 70
    return content


def test_a_sound_instrument_passes_all_three_tests(board: Board, config: Path) -> None:
    with proving(config, *FAST) as person:
        person.expect("VACUUM-HOLD TEST")
        person.expect("Only\n  ever pull a vacuum")
        person.answer("q ends: ", "")
        board.follow(lambda t: min(70.0, 60.0 * t))
        person.expect("2 kPa lost")
        person.expect("PASSED")
        person.answer("q ends: ", "")
        board.follow(lambda t: HEAD_KPA + 45.0 * (1 - math.exp(-t / 1.2)))
        person.expect("20 needed")
        person.expect("PASSED: 30 kPa, good")
        person.answer("q ends: ", "")
        person.expect("waits for the fall")
        board.follow(lambda t: HEAD_KPA + 30.0 * math.exp(-t / 0.2))
        person.expect("PASSED: back within 1 kPa")
        assert person.ended() == 0
    shown = person.seen
    assert "\x1b[" in shown, "drawn in place"
    assert any(0x2800 < ord(letter) < 0x2900 for letter in shown), "a curve of braille dots"
    assert shown.count("TOWEL TEST") == 1
    hold, towel, back = (record(config.parent, test) for test in ("hold", "towel", "return"))
    assert (hold["outcome"], towel["outcome"], back["outcome"]) == ("passed", "passed", "passed")
    assert hold["start_kpa"] == pytest.approx(70.0, abs=0.2)
    assert towel["by"] == "M. Quill"
    assert back["time_constant_s"] == pytest.approx(0.2, rel=0.2)
    assert back["zero_off_kpa"] == pytest.approx(0.0, abs=0.1)


def test_a_leak_is_named_with_where_to_look_and_fails(board: Board, config: Path) -> None:
    board.hold(70.0)
    with proving(config, "--test", "hold", "--time-limit", "1s") as person:
        person.answer("q ends: ", "")
        board.follow(lambda t: 70.0 - 0.3 * t)
        person.expect("FAILED: it loses")
        person.expect("close the valve at the instrument")
        assert person.ended() == 1
    assert record(config.parent, "hold")["leak_kpa_per_min"] == pytest.approx(18.0, rel=0.1)


def test_an_instrument_that_hardly_rises_is_told_why(board: Board, config: Path) -> None:
    board.hold(0.0)
    with proving(config, "--test", "towel", "--time-limit", "1s", TERM="dumb") as person:
        person.answer("q ends: ", "")
        person.expect("FAILED: -5.9 of 20 kPa")
        person.expect("it feels the air")
        assert person.ended() == 1
    assert "\x1b[" not in person.seen, "a dumb terminal gets plain lines"


def test_a_zero_that_is_off_sends_one_to_calibrate(board: Board, config: Path) -> None:
    board.hold(HEAD_KPA + 30.0)
    with proving(config, "--test", "return", "--time-limit", "8s", "--ascii") as person:
        person.answer("q ends: ", "")
        person.expect("waits for the fall")
        board.follow(lambda t: HEAD_KPA + 1.8 + 28.2 * math.exp(-t / 0.1))
        person.expect("DOUBTFUL: back within 1 kPa")
        person.expect("parchd calibrate n1 --zero")
        assert person.ended() == 1
    assert "*" in person.seen
    assert record(config.parent, "return")["zero_off_kpa"] == pytest.approx(1.8, abs=0.1)


def test_ctrl_c_keeps_what_there_is_and_gives_the_terminal_back(board: Board, config: Path) -> None:
    board.follow(lambda t: HEAD_KPA + t)
    with proving(config, "--test", "towel") as person:
        person.answer("q ends: ", "")
        person.expect("rises")
        person.send("\x03")
        person.expect("NOT FINISHED: ended by")
        person.expect("Ended.")
        assert person.ended() == 1
    assert record(config.parent, "towel")["outcome"] == "not finished"


def test_tests_can_be_skipped_and_left(config: Path) -> None:
    with proving(config) as person:
        person.answer("q ends: ", "s")
        person.expect("TOWEL TEST")
        person.answer("q ends: ", "q")
        assert person.ended() == 1
    assert list((config.parent / "records").iterdir()) == []


def test_values_can_be_typed_from_a_gauge(config: Path) -> None:
    with proving(config, "--test", "towel", "--typed") as person:
        person.expect("You type")
        person.answer("q ends: ", "")
        for value in ("6 kPa", "half", "8 inHg", "36,5", "37"):
            person.answer("vacuum now, kPa: ", value)
        person.expect("PASSED: 30 kPa, good")
        assert person.ended() == 0
    assert "A number, please" in person.seen
    assert record(config.parent, "towel")["samples_from"] == "typed"


def test_beside_a_running_daemon_its_journal_is_read(board: Board, config: Path) -> None:
    board.hold(HEAD_KPA + 2.0)
    with DaemonProcess(config) as daemon:
        journal = config.parent / "parchd.db"
        assert wait_until(lambda: bool(query(journal, "SELECT 1 FROM journal LIMIT 1")))
        with proving(config, "--test", "towel", *FAST) as person:
            person.expect("the running daemon's journal")
            person.answer("q ends: ", "")
            board.follow(lambda t: HEAD_KPA + 2.0 + 20.0 * t)
            person.expect("PASSED: 30 kPa, good")
            assert person.ended() == 0
        assert daemon.stop() == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("n2",), "no tensiometer 'n2': there is n1"),
        (("n1", "--target", "90"), "it can never show 90 kPa"),
        (("n1", "--target", "20", "--good", "10"), "--good is not below --target"),
        (("n1", "--time-limit", "soon"), "'soon' is no number"),
        (("n1", "--typed"), "needs a terminal"),
        (("n1", "--records", "/proc/none"), "records cannot be kept there"),
    ],
)
def test_what_cannot_be_proven_is_refused(config: Path, words: tuple[str, ...], said: str) -> None:
    result = parchd("prove", words[0], config, *words[1:])
    assert result.code == 1
    assert said in result.err


def test_a_port_that_is_not_there_is_told_at_once(tmp_path: Path) -> None:
    config = tmp_path / "bench.toml"
    config.write_text(bench_config("/dev/parchd-none"))
    began_s = time.monotonic()
    with proving(config, "--test", "towel") as person:
        person.answer("q ends: ", "")
        assert person.ended() == 1
    assert "source board cannot be reached" in person.seen
    assert "parchd-none" in person.seen
    assert time.monotonic() - began_s < 8.0


@pytest.mark.needs("mosquitto")
def test_a_broker_is_not_read_behind_the_daemons_back(tmp_path: Path) -> None:
    """Whatever were acknowledged here would be lost: nothing is, and the daemon gets it all afterwards."""
    with Mosquitto(tmp_path / "broker") as broker:
        config = tmp_path / "bench.toml"
        config.write_text(farm(mqtt_source(broker.port), tensiometers=1))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            daemon.stop()
            with Publisher(broker.host, broker.port) as publisher:
                times = [time.time() - age_s for age_s in (3, 2, 1)]
                publisher.publish(("farm/c0", json.dumps({"t": t, "v": 9.0}).encode()) for t in times)
            with Dialogue("prove", "t0", config.name, "--test", "towel", folder=tmp_path) as person:
                person.answer("q ends: ", "")
                assert person.ended() == 1
            assert "Start the daemon (parchd run)" in person.seen
            daemon.start()
            journal = tmp_path / "parchd.db"
            assert wait_until(lambda: query(journal, "SELECT count(*) FROM journal") == [(3,)])
            daemon.stop()


def test_sigterm_ends_it_as_ctrl_c_does(board: Board, config: Path) -> None:
    board.follow(lambda t: HEAD_KPA + t)
    with proving(config, "--test", "towel") as person:
        person.answer("q ends: ", "")
        person.expect("rises")
        person.terminate()
        person.expect("Ended.")
        assert person.ended() == 1
