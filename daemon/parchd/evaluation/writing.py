"""Puts the report into a folder."""

from collections.abc import Callable, Sequence
from pathlib import Path

from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.exam import Exam
from parchd.evaluation.examples import Example, example_chart, example_title, examples
from parchd.evaluation.listing import listed
from parchd.evaluation.making import Making
from parchd.evaluation.prose import LIMITS
from parchd.evaluation.report import report_page
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.summary import summary
from parchd.evaluation.tally import Tally
from parchd.workbench.chart import Chart


def write_report(
    folder: Path,
    exam: Exam,
    results: Sequence[SeasonResult],
    tally: Tally,
    kinds: Sequence[FindingKind],
    drawing: Callable[[Example], None] = lambda _: None,
) -> tuple[Path, Path]:
    """Write ``report.html`` and ``summary.txt``; give their paths.

    Args:
        drawing: called before each example is drawn, which takes as long as its season.
    """
    folder.mkdir(parents=True, exist_ok=True)
    page, text = folder / "report.html", folder / "summary.txt"
    making = Making.of(exam)
    text.write_text("\n".join(_text(results, tally, kinds, making)), encoding="utf-8")
    page.write_text(report_page(results, tally, making, _charts(results, kinds, exam, drawing)), encoding="utf-8")
    return page, text


def _charts(
    results: Sequence[SeasonResult], kinds: Sequence[FindingKind], exam: Exam, drawing: Callable[[Example], None]
) -> list[tuple[str, Chart]]:
    charts = []
    for example in examples(results, kinds):
        drawing(example)
        charts.append((example_title(example), example_chart(example, exam.folder)))
    return charts


def _text(results: Sequence[SeasonResult], tally: Tally, kinds: Sequence[FindingKind], making: Making) -> list[str]:
    return [*making.lines(), "", *LIMITS, "", *summary(tally), "", *listed(results, kinds), ""]
