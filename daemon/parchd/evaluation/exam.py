"""Many seasons at once, in as many processes as there are processors."""

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from parchd.evaluation.result import SeasonResult, season_result

DAYS = 180
FIRST_REPORT_SEED = 1_000_001
"""Seeds below it are for tuning detectors; what is told to people comes from this one on."""


@dataclass(frozen=True, slots=True)
class Exam:
    """Which seasons.

    Args:
        seasons: with faults.
        healthy: without any; their seeds follow.
        days: length of each.
        folder: keeps simulated seasons; ``None``: none.
    """

    seasons: int = 200
    healthy: int = 50
    first_seed: int = FIRST_REPORT_SEED
    days: int = DAYS
    folder: Path | None = None

    @property
    def tasks(self) -> list[tuple[int, bool]]:
        """Seeds, and whether the season has faults."""
        seeds = range(self.first_seed, self.first_seed + self.seasons + self.healthy)
        return [(seed, number < self.seasons) for number, seed in enumerate(seeds)]


def sit(exam: Exam, jobs: int, done: Callable[[SeasonResult], None] = lambda _: None) -> list[SeasonResult]:
    """Judge all seasons; the result is in the order of the seeds, whatever ``jobs`` is.

    Args:
        jobs: processes at once; 1: no other process is started.
        done: called for each season as it is finished.
    """
    results: dict[int, SeasonResult] = {}
    for result in _one_by_one(exam) if jobs <= 1 else _together(exam, jobs):
        results[result.seed] = result
        done(result)
    return [results[seed] for seed in sorted(results)]


def _one_by_one(exam: Exam) -> Iterator[SeasonResult]:
    return (season_result(seed, faults, exam.days, exam.folder) for seed, faults in exam.tasks)


def _together(exam: Exam, jobs: int) -> Iterator[SeasonResult]:
    with ProcessPoolExecutor(min(jobs, len(exam.tasks) or 1), get_context("spawn")) as pool:
        waiting = [pool.submit(season_result, seed, faults, exam.days, exam.folder) for seed, faults in exam.tasks]
        try:
            for future in as_completed(waiting):
                yield future.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
