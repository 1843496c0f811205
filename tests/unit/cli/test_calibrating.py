"""The conversation of ``parchd calibrate`` with somebody who answers from a list."""

import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from parchd.cli.calibrating import Bench, Stopped
from parchd.cli.calibrating_check import CheckError, check_span, check_zero
from parchd.cli.calibrating_full import calibrate
from parchd.cli.calibrating_write import RefusedError, load_with, target_of, write_calibration
from parchd.cli.desk import Desk
from parchd.cli.exits import Exit
from parchd.config import load
from parchd.contract import Unit
from parchd.physics.calibration import epochs
from parchd.testing.board import bench_config, volts_of
from parchd.testing.clock import FakeClock
from parchd.testing.site import START_US
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.live import LiveError, LiveSample, find_setup
from parchd.workbench.live_steady import Limits
from parchd.workbench.records import RecordError

GAUGE = Reference("kPa")


class Person(Desk):
    """Gives one answer after another, and then none; keeps what was asked and shown."""

    def __init__(self, clock: FakeClock, answers: Iterable[str]) -> None:
        super().__init__(clock, {}, ascii_only=True)
        self.somebody = True
        self.asked: list[str] = []
        self.seen = ""
        self._answers = list(answers)
        self.enters: list[str | None] = []

    def ask(self, question: str) -> str | None:
        self.asked.append(question)
        return self._answers.pop(0) if self._answers else None

    def line(self, timeout_s: float | None) -> str | None:
        return self.enters.pop(0) if self.enters else None

    def show(self, lines: Sequence[str]) -> None:
        self.seen += "".join(f"{line}\n" for line in lines)

    @property
    def said(self) -> str:
        """All that was shown, on one line."""
        return " ".join(self.seen.split())


class Following:
    """A feed that gives the signal of a vacuum each second of a fake clock."""

    origin = "source board"
    ended = False

    def __init__(self, clock: FakeClock, vacuum: Callable[[int], float | None]) -> None:
        self._clock = clock
        self._vacuum = vacuum
        self._second = 0

    def take(self, timeout_s: float) -> Sequence[LiveSample]:
        self._clock.advance(1.0)
        self._second += 1
        kpa = self._vacuum(self._second)
        if kpa is None:
            return ()
        time_us = START_US + self._second * 1_000_000
        return (LiveSample(time_us, volts_of(kpa), Unit.V, volts_of(kpa), 5.0, -kpa, kpa, kpa, "", 101.0),)

    def forget(self) -> None:
        pass

    def silence(self) -> str:
        return "Source board is connected to /dev/board."

    def close(self) -> None:
        pass


@pytest.fixture
def config(tmp_path: Path) -> Path:
    (tmp_path / "cal").mkdir()
    (tmp_path / "records").mkdir()
    path = tmp_path / "bench.toml"
    path.write_text(bench_config("/dev/none", 'calibration_dir = "cal"'))
    return path


def bench(config: Path, *answers: str, feed: Following | None = None, by: str = "M. Quill") -> tuple[Bench, Person]:
    loaded = load(config, {}, None)
    clock = FakeClock(START_US)
    person = Person(clock, answers)
    made = Bench(
        loaded, find_setup(loaded, "n1"), feed, Limits(), config.parent / "records", by, person, clock
    )  # fmt: skip
    return made, person


def points(vacuums: Sequence[float], shown: Callable[[float], float] = lambda kpa: kpa) -> Iterator[str]:
    """What the reference shows and the signal beside it, typed in turn."""
    for kpa in vacuums:
        yield f"{kpa}"
        yield f"{volts_of(shown(kpa)):.5f}"


def written(config: Path) -> dict[str, Any]:
    (path,) = (config.parent / "cal").glob("*.toml")
    return tomllib.loads(path.read_text("utf-8"))


def full(
    config: Path, *answers: str, given: Reference | None = None, degree: int | None = None, by: str = "M. Quill"
) -> tuple[Exit, Person]:
    made, person = bench(config, *answers, by=by)
    return calibrate(made, target_of(made.loaded), given, degree), person


def test_typed_points_become_a_calibration(config: Path) -> None:
    code, person = full(config, "", "0.5", "", *points((0, 40, 80, 40), lambda kpa: 0.5 + kpa), "d", "w", "Anne", by="")
    assert code is Exit.OK
    content = written(config)
    assert content["points"] == [[0.52, 0.0], [2.12, 40.0], [3.72, 80.0], [2.12, 40.0]]
    assert (content["valid_from"].isoformat(), content["by"]) == ("2026-06-01", "Anne")
    assert "So far: not calibrated" in person.said
    assert "CAUTION: Eye protection" in person.said
    assert "The daemon takes it when it starts." in person.said
    assert [path.suffix for path in (config.parent / "records").iterdir()] == [".svg"]


def test_a_second_one_of_the_day_holds_from_its_time(config: Path) -> None:
    for _ in range(2):
        full(config, "0.5", "", *points((0, 40, 80)), "d", "w", given=GAUGE)
    setup = find_setup(load(config, {}, None), "n1")
    assert [one.label for one in setup.calibrations] == ["2026-06-01", "2026-06-01 05:00"]


def test_too_few_points_lead_back_to_taking_more(config: Path) -> None:
    more = ("d", *points((80,)), "d", "m", *points((60,)), "d", "w")
    code, person = full(config, "0.5", "", *points((0, 40)), *more, given=GAUGE)
    assert code is Exit.OK
    assert "No calibration yet: a line needs 3 points or more, not 2" in person.said
    assert len(written(config)["points"]) == 4


def test_a_curve_is_taken_and_given_up_again(config: Path) -> None:
    bent = points((0, 20, 40, 60, 80, 60, 40, 20, 0), lambda kpa: kpa + 3e-4 * kpa * kpa)
    code, person = full(config, "0.5", "", *bent, "d", "c", "s", "c", "w", given=GAUGE)
    assert code is Exit.OK
    assert written(config)["degree"] == 2
    assert "A curve follows them better" in person.said
    assert "a straight line" in person.said


def test_a_curve_that_nobody_needs_is_said_to_be_none(config: Path) -> None:
    straight = points((0, 20, 40, 60, 80), lambda kpa: kpa + (kpa == 40) * 0.01)
    _, person = full(config, "0.5", "", *straight, "d", "w", given=GAUGE, degree=2)
    assert "A curve is not called for" in person.said


def test_a_bad_point_is_left_out_and_taken_back(config: Path) -> None:
    misread = [*points((0, 20, 40, 60)), "72", f"{volts_of(80.0)}", *points((60, 40, 20, 0), lambda kpa: kpa + 0.02)]
    code, person = full(config, "0.5", "", *misread, "d", "x 5", "x 5", "x five", "y", "x5", "w", given=GAUGE)
    assert code is Exit.OK
    assert "Point 5 (72.0 kPa, up) does not belong to the others" in person.said
    assert "x and the number of a point, 1 to 9" in person.said
    assert "one of the letters above" in person.said
    assert written(config)["left_out"] == [5]


def test_a_point_whose_signal_is_not_typed_is_not_taken(config: Path) -> None:
    made, person = bench(config, "0.5", "", "0", "", "?", "l", "u", "q")
    with pytest.raises(Stopped):
        calibrate(made, target_of(made.loaded), GAUGE, None)
    assert "not taken" in person.said
    assert "there is none" in person.said
    assert not list((config.parent / "records").iterdir())


@pytest.mark.parametrize(("answer", "kept"), [("", 2), ("n", 0)])
def test_points_are_kept_or_thrown_away_on_the_way_out(config: Path, answer: str, kept: int) -> None:
    made, person = bench(config, "0.5", "", *points((0, 40)), "q", answer)
    with pytest.raises(Stopped):
        calibrate(made, target_of(made.loaded), GAUGE, None)
    assert len(list((config.parent / "records").glob("*.draft"))) == (kept > 0)
    again, person = bench(config, "n", "0.5", "", "q") if kept else bench(config, "0.5", "", "q")
    with pytest.raises(Stopped):
        calibrate(again, target_of(again.loaded), GAUGE, None)
    assert any("are kept: go on?" in question for question in person.asked) == (kept > 0)


def test_whoever_does_not_answer_any_more_stops_it(config: Path) -> None:
    made, _ = bench(config, "")
    with pytest.raises(Stopped):
        calibrate(made, target_of(made.loaded), None, None)


@pytest.mark.parametrize(
    ("answers", "said"),
    [(("cm", "50"), "water has 0 to 45 C"), (("cm", "warm"), "no number"), (("furlong",), "no unit of pressure"),
     (("kpa", "0.5", "9"), "more than a fifth off the 5 V"), (("kpa", "99"), "of no use")],
)  # fmt: skip
def test_answers_that_cannot_be_are_asked_for_again(config: Path, answers: tuple[str, ...], said: str) -> None:
    made, person = bench(config, *answers)
    with pytest.raises(Stopped):
        calibrate(made, target_of(made.loaded), None, None)
    assert said in person.said
    assert person.asked[-1] == person.asked[-2]


def test_a_wrong_yes_or_no_is_asked_again(config: Path) -> None:
    made, person = bench(config, "maybe", "N")
    assert not made.agreed("Well?", usually=True)
    assert "y or n, please" in person.said


# --- the signal


def test_a_signal_is_taken_when_it_stands_still(config: Path) -> None:
    made, _ = bench(config, feed=Following(FakeClock(), lambda second: 40.0 if second > 30 else 80.0 - second))
    made = with_clock_of_feed(made)
    reading = made.reading(0.0)
    assert reading is not None
    assert reading.steady
    assert reading.signal == pytest.approx(2.1)


def with_clock_of_feed(made: Bench) -> Bench:
    assert isinstance(made.feed, Following)
    return replace(made, clock=made.feed._clock)


@pytest.mark.parametrize(("typed", "taken"), [("", True), ("c", False)])
def test_enter_takes_a_signal_that_moves_and_c_gives_it_up(config: Path, typed: str, taken: bool) -> None:
    made, person = bench(config, feed=Following(FakeClock(), lambda second: float(second)))
    person.enters = [*[None] * 12, typed]
    reading = with_clock_of_feed(made).reading(0.0)
    assert (reading is not None) == taken
    assert reading is None or not reading.steady


def test_silence_is_told_and_costs_no_point(config: Path) -> None:
    made, _ = bench(config, feed=Following(FakeClock(), lambda _second: None))
    with pytest.raises(LiveError, match=r"no sample of board/a0 for 11 s. Source board is connected"):
        with_clock_of_feed(made).reading(0.0)


def test_a_silent_board_leaves_the_other_points_as_they_are(config: Path) -> None:
    made, person = bench(config, "0.5", "20", "q", feed=Following(FakeClock(), lambda _second: None))
    with pytest.raises(Stopped):
        calibrate(with_clock_of_feed(made), target_of(made.loaded), GAUGE, None)
    assert "no sample of board/a0" in person.said


def test_a_pressure_that_moved_meanwhile_is_read_again(config: Path) -> None:
    feed = Following(FakeClock(), lambda second: max(40.0, 60.0 - second))
    made, person = bench(config, "0.5", "60", "40.2", "l", "q", "", feed=feed)
    with pytest.raises(Stopped):
        calibrate(with_clock_of_feed(made), target_of(made.loaded), GAUGE, None)
    assert "The pressure moved by 1" in person.said
    (draft,) = (config.parent / "records").glob("*.draft")
    assert tomllib.loads(draft.read_text())["vacuum_kpa"] == [40.2]


def test_progress_says_what_keeps_a_signal_from_being_taken(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shown: list[str] = []
    feed = Following(FakeClock(), lambda second: 20.0 + 0.5 * second if second < 20 else 30.0)
    made, person = bench(config, feed=feed)
    monkeypatch.setattr(person, "update", shown.append)
    with_clock_of_feed(made).reading(0.0)
    assert any("listening" in text for text in shown)
    assert any("still moving 30.0 kPa/min; Enter takes it, c cancels" in text for text in shown)


# --- checks


def test_the_open_air_sets_the_zero(config: Path) -> None:
    made, person = bench(config, "a", "", f"{volts_of(0.6)}", "")
    assert check_zero(made, target_of(made.loaded)) is Exit.OK
    assert "its zero is off by +0.60 kPa" in person.said
    assert written(config)["points"] == [[pytest.approx(0.524), 0.0]]


def test_a_gauge_zeroed_in_water_has_no_zero_in_the_air(config: Path) -> None:
    config.write_text(config.read_text().replace("height_cm = 60", "zeroed_in_water = true"))
    made, person = bench(config, "a", "w", "", f"{volts_of(0.3)}", "y")
    check_zero(made, target_of(made.loaded))
    assert "the open air is no reference for it" in person.said
    assert "w, please" in person.said
    assert written(config)["points"][0][1] == 0.0


def test_a_check_corrects_what_was_calibrated_before(config: Path) -> None:
    full(config, "0.5", "", *points((0, 40, 80), lambda kpa: 1.02 * kpa), "d", "w", given=GAUGE)
    made, person = bench(config, "0.5", "", *points((0, 60), lambda kpa: 0.3 + 1.03 * kpa), "")
    assert check_span(made, target_of(made.loaded), GAUGE) is Exit.OK
    first, second = epochs(find_setup(load(config, {}, None), "n1").calibrations)
    assert first.fit.slope == pytest.approx(1.02, abs=1e-3)
    assert second.fit.slope == pytest.approx(1.03, abs=1e-3)
    assert "Its slope changes by +0.98 %" in person.said


def test_a_check_that_is_not_wanted_writes_nothing(config: Path) -> None:
    made, _ = bench(config, "a", "", f"{volts_of(0.05)}", "")
    with pytest.raises(Stopped):
        check_zero(made, target_of(made.loaded))
    assert not list((config.parent / "cal").iterdir())


def test_a_check_before_a_later_calibration_would_never_hold(config: Path) -> None:
    (config.parent / "cal" / "later.toml").write_text(
        'tensiometer = "n1"\nvalid_from = 2026-08-01\npoints = [[0.5, 0], [3.7, 80]]\n'
    )
    made, _ = bench(config, "a", "", f"{volts_of(0.6)}", "y")
    with pytest.raises(CheckError, match="a calibration begins at 2026-08-01 00:00, later than now"):
        check_zero(made, target_of(made.loaded))


# --- where it is written


def test_without_a_folder_it_goes_beside_the_configuration_and_counts_from_then_on(config: Path) -> None:
    config.write_text(config.read_text().replace('calibration_dir = "cal"', ""))
    target = target_of(load(config, {}, None))
    assert (target.folder, target.named) == (config.parent / "calibrations", False)
    made, person = bench(config, "0.5", "", *points((0, 40, 80)), "d", "w")
    assert calibrate(made, target, GAUGE, None) is Exit.OK
    assert 'calibration_dir = "calibrations"' in person.seen
    assert len(find_setup(load_with(config, target), "n1").calibrations) == 1


def test_a_folder_that_cannot_be_written_is_told_first(config: Path) -> None:
    loaded = replace(load(config, {}, None), calibration_dir=config / "inside-a-file")
    with pytest.raises(RecordError, match="start this command as a user who may"):
        target_of(loaded)


def test_a_file_that_the_configuration_does_not_take_is_put_aside(config: Path) -> None:
    made, _ = bench(config)
    text = 'tensiometer = "n1"\nvalid_from = 2026-01-01\npoints = [[9, 0]]\n'
    with pytest.raises(RefusedError, match=r"put aside as .*n1\.toml\.refused"):
        write_calibration(made, target_of(made.loaded), "n1", text)
    assert load(config, {}, None).pipeline.tensiometers[0].calibrations == ()
