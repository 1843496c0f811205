"""The loop around a test of the bench proof: silence, ends, and what is kept when it breaks off."""

import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path

import pytest

from parchd.cli.desk import Desk
from parchd.cli.prove import ProveError, check
from parchd.cli.proving import Proving
from parchd.contract import Unit
from parchd.testing.clock import FakeClock
from parchd.testing.site import START_US, tensiometer
from parchd.workbench.live import LiveError, LiveSample
from parchd.workbench.proof import Outcome, Proof, Subject, Terms

SUBJECT = Subject("north-30", 5.87, 79.1)
SETUP = tensiometer("north-30", "a0", height_m=0.6, interval_s=5.0)


class Scripted:
    """A feed that gives a sample each second of a fake clock, and then nothing more."""

    origin = "source board"

    def __init__(self, clock: FakeClock, tensions: Iterable[float], *, ends: bool = False) -> None:
        self._clock = clock
        self._tensions = list(tensions)
        self._ends = ends
        self._second = 0

    @property
    def ended(self) -> bool:
        return self._ends and not self._tensions

    def take(self, timeout_s: float) -> Sequence[LiveSample]:
        self._clock.advance(1.0)
        if not self._tensions:
            return ()
        self._second += 1
        kpa = self._tensions.pop(0)
        time_us = START_US + self._second * 1_000_000
        return (LiveSample(time_us, 1.0, Unit.V, 1.0, 5.0, -kpa, kpa + 5.87, kpa, "", 101.0),)

    def forget(self) -> None:
        pass

    def silence(self) -> str:
        return "Source board is connected to /dev/board."

    def close(self) -> None:
        pass


def proving(folder: Path, clock: FakeClock) -> Proving:
    desk = Desk(clock, {}, ascii_only=True)
    return Proving(SETUP, "Europe/Lisbon", SUBJECT, Terms(), folder, "", desk, clock)


def test_a_source_that_ends_ends_the_test(tmp_path: Path) -> None:
    clock = FakeClock()
    (result,) = proving(tmp_path, clock).run([Proof.TOWEL], Scripted(clock, range(25), ends=True))
    assert result.outcome is Outcome.PASSED
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".svg", ".toml"]


def test_three_intervals_of_silence_end_it_with_what_to_look_at(tmp_path: Path) -> None:
    clock = FakeClock()
    with pytest.raises(LiveError, match=r"no sample of bus1/a0 for 16 s. Source board is connected.*powered"):
        proving(tmp_path, clock).run([Proof.TOWEL], Scripted(clock, ()))
    assert not list(tmp_path.iterdir()), "there is nothing to record"


def test_what_came_before_the_silence_is_recorded_as_not_finished(tmp_path: Path) -> None:
    clock = FakeClock()
    with pytest.raises(LiveError):
        proving(tmp_path, clock).run([Proof.TOWEL], Scripted(clock, range(12)))
    (record,) = tmp_path.glob("*.toml")
    content = tomllib.loads(record.read_text())
    assert content["outcome"] == "not finished"
    assert content["headline"] == "no more samples: 11.0 of 20 kPa in 11 s"
    assert len(content["curve"]) == 12


def test_a_test_that_had_passed_stays_passed(tmp_path: Path) -> None:
    clock = FakeClock()
    with pytest.raises(LiveError):
        proving(tmp_path, clock).run([Proof.TOWEL], Scripted(clock, range(26)))
    (record,) = tmp_path.glob("*.toml")
    assert tomllib.loads(record.read_text())["outcome"] == "passed"


def test_a_coarse_interval_is_pointed_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    clock = FakeClock()
    slow = tensiometer("north-30", "a0", height_m=0.6, interval_s=600.0)
    desk = Desk(clock, {}, ascii_only=True)
    Proving(slow, "Europe/Lisbon", SUBJECT, Terms(), tmp_path, "", desk, clock).run([], Scripted(clock, ()))
    assert "interval_s is 600 s" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("terms", "said"),
    [
        (Terms(target_kpa=80.0, good_kpa=80.0), "can be believed up to 79 kPa only"),
        (Terms(target_kpa=0.0), "thresholds are above 0"),
        (Terms(leak_kpa=-1.0), "thresholds are above 0"),
        (Terms(good_kpa=10.0), "--good is not below --target"),
        (Terms(target_kpa=float("nan")), "thresholds"),
    ],
)
def test_what_can_never_be_shown_is_refused(terms: Terms, said: str) -> None:
    with pytest.raises(ProveError, match=said):
        check(SUBJECT, terms)
