"""``parchd evaluate``"""

import os
import sys
from argparse import Namespace

from parchd.cli.exits import Exit
from parchd.clock import SystemClock
from parchd.contract import ParchdError
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.exam import Exam, sit
from parchd.evaluation.examples import Example
from parchd.evaluation.keeping import kept
from parchd.evaluation.listing import listed
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.summary import summary
from parchd.evaluation.tally import tally
from parchd.evaluation.telling import told
from parchd.evaluation.writing import write_report


def command(arguments: Namespace) -> Exit:
    """Judge the diagnosis on simulated seasons, or show one of them."""
    kinds = _kinds(arguments.kinds)
    if arguments.season is not None:
        trial = kept(arguments.season, faults=not arguments.without_faults, days=arguments.days, folder=arguments.cache)
        print("\n".join(told(trial, arguments.report)))
        return Exit.OK
    exam = Exam(arguments.seasons, arguments.healthy, arguments.first_seed, arguments.days, arguments.cache)
    results = sit(exam, arguments.jobs or os.cpu_count() or 1, _Progress(len(exam.tasks)))
    result = tally(results, kinds)
    if arguments.list:
        print("\n".join([*listed(results, kinds), ""]))
    print("\n".join(summary(result)))
    if arguments.report is not None:
        for path in write_report(arguments.report, exam, results, result, kinds, _say_drawing):
            print(f"written: {path}")
    return Exit.OK


def _kinds(named: list[str] | None) -> tuple[FindingKind, ...]:
    try:
        return tuple(FindingKind(name) for name in named) if named else tuple(FindingKind)
    except ValueError as error:
        raise ParchdError(f"{error}; there are: {', '.join(FindingKind)}") from error


def _say_drawing(example: Example) -> None:
    if sys.stderr.isatty():
        print(f"drawing {example.judged.fault.kind.value}", file=sys.stderr, flush=True)


class _Progress:
    """Tells on standard error how far it is, and about how long it will take."""

    def __init__(self, total: int) -> None:
        self._clock = SystemClock()
        self._total, self._done, self._begun_s = total, 0, self._clock.monotonic_s()
        self._shows = sys.stderr.isatty()

    def __call__(self, _: SeasonResult) -> None:
        self._done += 1
        passed_s = self._clock.monotonic_s() - self._begun_s
        left_s = passed_s / self._done * (self._total - self._done)
        if self._shows:
            end = "\n" if self._done == self._total else ""
            print(
                f"\r{self._done} of {self._total} seasons, {left_s:4.0f} s left ", end=end, file=sys.stderr, flush=True
            )
