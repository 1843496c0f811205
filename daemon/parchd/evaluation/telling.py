"""One season told: what was true, what was said, and a drawing of each tensiometer."""

from collections.abc import Iterator
from pathlib import Path

from parchd.evaluation.drawing import season_frame, tensiometer_chart
from parchd.evaluation.listing import chain_text, facts_text, fault_text, moment, shows_text
from parchd.evaluation.result import SeasonResult, judged_trial
from parchd.evaluation.run import Heard, diagnose
from parchd.evaluation.trial import Trial
from parchd.workbench.chart_svg import chart_svg


def told(trial: Trial, folder: Path | None) -> Iterator[str]:
    """Tell a season in lines, and draw it into a folder.

    Args:
        folder: one SVG file for each tensiometer comes here; ``None``: nothing is drawn.
    """
    heard = diagnose(trial.season, trial.columns, trial.units)
    yield from season_lines(judged_trial(trial, heard, faulty=bool(trial.season.faults)), trial, heard)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        yield from _drawn(trial, heard, folder)


def season_lines(result: SeasonResult, trial: Trial, heard: Heard) -> Iterator[str]:
    """What was true and what was said, line by line: the text that a golden season is compared with."""
    season = trial.season
    yield f"season {result.seed}: {result.description}"
    yield f"{moment(season.start_us)} to {moment(season.end_us)}, {len(season.setup.tensiometers)} tensiometers"
    yield "true:"
    yield from (
        f"  {one.mark.value}: {fault_text(one.fault)}; {one.showing.aside or shows_text(one)}" for one in result.judged
    )
    yield from (
        f"  service of {one.source} {moment(one.begin_us)} to {moment(one.end_us)}: {', '.join(one.tensiometers)}"
        for one in season.services
    )
    yield "said:"
    for chain in heard.chains:
        yield f"  {chain_text(chain)}"
        yield f"    {facts_text(chain.last)}"
    yield from _events(heard)


def _events(heard: Heard) -> Iterator[str]:
    counts: dict[str, int] = {}
    for event in heard.events:
        counts[event.kind.value] = counts.get(event.kind.value, 0) + 1
    yield "events: " + (", ".join(f"{count} {kind}" for kind, count in sorted(counts.items())) or "none")


def _drawn(trial: Trial, heard: Heard, folder: Path) -> Iterator[str]:
    frame = season_frame(trial)
    for setup in trial.season.setup.tensiometers:
        path = folder / f"season-{trial.seed}-{setup.place.tensiometer}.svg"
        path.write_text(chart_svg(tensiometer_chart(trial, setup, heard.chains, frame)), encoding="utf-8")
        yield f"drawn: {path}"
