"""One fault of each kind, to be drawn: the most ordinary one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.concern import tensiometers_of
from parchd.evaluation.drawing import frame_of, tensiometer_chart
from parchd.evaluation.keeping import kept
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.score import Judged, Mark
from parchd.evaluation.tally import delay_h
from parchd.workbench.chart import Chart


@dataclass(frozen=True, slots=True)
class Example:
    """A fault and its season."""

    result: SeasonResult
    judged: Judged


def examples(results: Sequence[SeasonResult], kinds: Iterable[FindingKind]) -> list[Example]:
    """For each kind the found fault whose delay is nearest to the median; where none was found, the first missed."""
    chosen = (_example(results, kind) for kind in kinds)
    return [one for one in chosen if one is not None]


def _example(results: Sequence[SeasonResult], kind: FindingKind) -> Example | None:
    all_of = [
        Example(result, one)
        for result in results
        for one in result.judged
        if one.fault.kind is kind and one.mark is not Mark.ASIDE
    ]
    found = [one for one in all_of if one.judged.mark is Mark.FOUND]
    if not found:
        return all_of[0] if all_of else None
    middle = median(delay_h(one.judged) for one in found)
    return min(found, key=lambda one: (abs(delay_h(one.judged) - middle), one.result.seed))


def example_title(example: Example) -> str:
    """What stands above its chart."""
    fault, hours = example.judged.fault, delay_h(example.judged)
    form = f" ({fault.form})" if fault.form else ""
    return f"{fault.kind.value}{form}: " + ("missed" if hours != hours else f"found after {hours:.1f} h")


def example_chart(example: Example, folder: Path | None) -> Chart:
    """Simulate the season of an example again, and draw the tensiometer that the fault concerns."""
    trial = kept(example.result.seed, faults=True, days=example.result.plan.days, folder=folder)
    fault, chain = example.judged.fault, example.judged.chain
    setups = trial.season.setup.tensiometers
    names = tensiometers_of(fault, trial.season.setup)
    setup = next(one for one in setups if one.place.tensiometer in names)
    frame = frame_of(trial, fault, None if chain is None else chain.last.found_us)
    return tensiometer_chart(trial, setup, example.result.chains, frame)
