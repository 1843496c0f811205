"""A small evaluation from end to end: seasons of six weeks."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from parchd.cli.main import main
from parchd.evaluation import keeping
from parchd.evaluation.exam import Exam, sit
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.tally import tally
from parchd.evaluation.trial import Trial

DAYS = 40
SMALL = Exam(seasons=3, healthy=1, first_seed=11, days=DAYS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("seasons")


@pytest.fixture(scope="module")
def results(folder: Path) -> list[SeasonResult]:
    return sit(replace(SMALL, folder=folder), jobs=1)


def test_most_faults_of_a_few_seasons_are_found_and_little_else(results: list[SeasonResult]) -> None:
    result = tally(results)
    assert result.all.faults >= 9
    assert result.all.recall >= 0.75
    assert result.all.precision >= 0.85
    assert result.false_healthy == 0


def test_the_number_of_processes_changes_nothing(results: list[SeasonResult], folder: Path) -> None:
    again = sit(replace(SMALL, folder=folder), jobs=2)
    assert [repr(one) for one in again] == [repr(one) for one in results]  # NaN is not equal to itself


def test_a_season_that_is_kept_is_the_season_that_was_simulated(results: list[SeasonResult], folder: Path) -> None:
    fresh = keeping.kept(11, faults=True, days=DAYS, folder=None)
    kept = keeping.kept(11, faults=True, days=DAYS, folder=folder)
    assert (kept.plan, kept.showings, kept.units, kept.season.setup) == (
        fresh.plan, fresh.showings, fresh.units, fresh.season.setup,
    )  # fmt: skip
    assert all(same(kept, fresh, channel) for channel in fresh.columns)
    assert len(list(folder.iterdir())) == 4


def same(one: Trial, other: Trial, channel: str) -> bool:
    pairs = [(getattr(t.columns[channel], name) for t in (one, other)) for name in ("time_us", "value", "tension_kpa")]
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)


def test_a_change_of_the_simulator_lets_nobody_use_old_seasons(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    marks = set()
    for text in ("one = 1\n", "one = 2\n"):
        (tmp_path / "simulator").mkdir(exist_ok=True)
        (tmp_path / "simulator" / "soil.py").write_text(text)
        monkeypatch.setattr(keeping, "_ROOT", tmp_path)
        keeping.source_mark.cache_clear()
        marks.add(keeping.source_mark())
    keeping.source_mark.cache_clear()
    assert len(marks) == 2


def arguments(folder: Path, *more: str) -> list[str]:
    few = ["--first-seed", "11", "--seasons", "2", "--healthy", "1", "--days", f"{DAYS}", "--jobs", "1"]
    return ["evaluate", *few, "--cache", str(folder), *more]


def test_the_command_prints_lists_and_writes_the_report(
    results: list[SeasonResult], folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments(folder, "--list", "--report", str(tmp_path), "--kinds", "lost-water", "swapped")) == 0
    said = capsys.readouterr().out
    assert "recall over all kinds" in said
    assert {path.name for path in tmp_path.iterdir()} == {"report.html", "summary.txt"}
    assert "What was taken for what" in (tmp_path / "report.html").read_text("utf-8")
    assert "CAUTION: these seeds are for tuning" in (tmp_path / "summary.txt").read_text("utf-8")


def test_the_command_tells_one_season_and_draws_it(
    results: list[SeasonResult], folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments(folder, "--season", "11", "--report", str(tmp_path))) == 0
    said = capsys.readouterr().out
    assert said.startswith("season 11: ")
    assert "\ntrue:\n" in said
    assert "\nsaid:\n" in said
    drawn = list(tmp_path.glob("season-11-*.svg"))
    assert len(drawn) == said.count("\ndrawn: ") >= 4


def test_a_kind_that_does_not_exist_is_named_with_those_that_do(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["evaluate", "--kinds", "gremlins"]) == 1
    said = capsys.readouterr().err
    assert "gremlins" in said
    assert "lost-water" in said
