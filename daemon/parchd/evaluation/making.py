"""How a result was made, so that it can be made again."""

import platform
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

import parchd
from parchd.evaluation.exam import DAYS, FIRST_REPORT_SEED, Exam
from parchd.evaluation.keeping import source_mark


@dataclass(frozen=True, slots=True)
class Making:
    """What stands below a result."""

    exam: Exam
    source: str

    @classmethod
    def of(cls, exam: Exam) -> "Making":
        return cls(exam, source_mark())

    def lines(self) -> Iterator[str]:
        exam = self.exam
        last = exam.first_seed + exam.seasons + exam.healthy - 1
        healthy = exam.first_seed + exam.seasons
        yield f"Command: {self.command}"
        yield f"Seeds: {exam.first_seed} to {healthy - 1} with faults, {healthy} to {last} without."
        yield (
            "These seeds are kept for reports: no detector was tuned on them."
            if exam.first_seed >= FIRST_REPORT_SEED
            else "CAUTION: these seeds are for tuning. The result flatters the detectors."
        )
        versions = f"Python {platform.python_version()}, NumPy {np.__version__}"
        yield f"parchd {parchd.__version__}, simulator {self.source}, {versions}"

    @property
    def command(self) -> str:
        exam = self.exam
        days = f" --days {exam.days}" if exam.days != DAYS else ""
        return f"parchd evaluate --first-seed {exam.first_seed} --seasons {exam.seasons} --healthy {exam.healthy}{days}"
