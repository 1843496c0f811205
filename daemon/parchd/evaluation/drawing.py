"""One tensiometer of a season as a chart: what it read, what the soil did, what was true and what was said of it."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.clock import to_datetime
from parchd.diagnosis.hours import HOUR_US
from parchd.evaluation.concern import tensiometers_of
from parchd.evaluation.listing import chain_text, fault_text
from parchd.evaluation.run import Chain
from parchd.evaluation.trial import Trial
from parchd.pipeline.setup import TensiometerSetup
from parchd.simulator.season import Fault
from parchd.workbench.chart import Chart, Look, Point, Series, Span

DAY_US = 24 * HOUR_US
_BLOCKS = 290
_GAP_INTERVALS = 4.0
_LOWEST_KPA, _HIGHEST_KPA = -15.0, 110.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A span of time to be drawn."""

    begin_us: int
    end_us: int

    def days(self, time_us: float) -> float:
        """Days since the beginning."""
        return (time_us - self.begin_us) / DAY_US

    def holds(self, time_us: int) -> bool:
        return self.begin_us <= time_us <= self.end_us


def season_frame(trial: Trial) -> Frame:
    """All of a season."""
    return Frame(trial.season.start_us, trial.season.end_us)


def frame_of(trial: Trial, fault: Fault, found_us: int | None) -> Frame:
    """A fault with time before and after: wider the longer it took to find it."""
    until_us = found_us or min(fault.end_us or trial.season.end_us, fault.start_us + 30 * DAY_US)
    wide_us = max(8 * DAY_US, round(0.6 * (until_us - fault.start_us)))
    return Frame(
        max(trial.season.start_us, fault.start_us - wide_us),
        min(trial.season.end_us, until_us + max(6 * DAY_US, wide_us // 2)),
    )


def tensiometer_chart(trial: Trial, setup: TensiometerSetup, chains: Sequence[Chain], frame: Frame) -> Chart:
    """Draw one tensiometer; truth and findings are marked along the upper edge, and written out below."""
    name, zone = setup.place.tensiometer, setup.place.zone
    subjects = {f"tensiometer/{name}", f"source/{setup.channel.partition('/')[0]}"}
    of_it = [one for one in trial.season.faults if name in tensiometers_of(one, trial.season.setup)]
    faults = [one for one in of_it if _meets(one, frame)]
    said = [chain for chain in chains if chain.last.key.subject in subjects and frame.holds(chain.last.found_us)]
    line = list(_line(trial, setup, frame))
    series = [*line, *_soil(trial, name, frame)]
    top = max([20.0, *(y for one in series for _, y in one.points)])
    marks = list(_marks(faults, said, frame, top * 1.06))
    soil = dict(zip(trial.plan.zones, trial.plan.soils, strict=True)).get(zone, "")
    notes = [f"True: {fault_text(one)}." for one in faults] or ["True: nothing is wrong with it."]
    notes += [f"Readings beyond {_LOWEST_KPA:g} and {_HIGHEST_KPA:g} kPa are drawn there."] if _beyond(line) else []
    notes += [f"Said: {chain_text(chain)}." for chain in said] or ["Said: nothing."]
    return Chart(
        f"{name}, season {trial.seed}: {soil}, {setup.place.depth_m * 100:.0f} cm",
        f"days since {to_datetime(frame.begin_us):%d %B %H:%M} UTC, a reading every {setup.interval_s / 60:g} min",
        "tension, kPa",
        Span(0.0, frame.days(frame.end_us)),
        Span(0.0, 20.0),
        (*series, *marks),
        notes=tuple(notes),
    )


def _beyond(line: Iterable[Series]) -> bool:
    return any(y in (_LOWEST_KPA, _HIGHEST_KPA) for one in line for _, y in one.points)


def _meets(fault: Fault, frame: Frame) -> bool:
    return fault.start_us <= frame.end_us and (fault.end_us is None or fault.end_us >= frame.begin_us)


def _marks(faults: Iterable[Fault], said: Iterable[Chain], frame: Frame, y: float) -> Iterator[Series]:
    faults = list(faults)
    begun = [(frame.days(one.start_us), y) for one in faults if frame.holds(one.start_us)]
    over = [(frame.days(one.end_us), y) for one in faults if one.end_us is not None and frame.holds(one.end_us)]
    found = [(frame.days(chain.last.found_us), y) for chain in said]
    labelled = ((Look.DOWN, begun, "fault begins"), (Look.LEFT_OUT, over, "is mended"), (Look.UP, found, "found"))
    return (Series(look, tuple(points), label) for look, points, label in labelled if points)


def _line(trial: Trial, setup: TensiometerSetup, frame: Frame) -> Iterator[Series]:
    """Readings, in one piece for each stretch without a long gap."""
    column = trial.columns[setup.channel]
    good = np.isfinite(column.tension_kpa) & (column.time_us >= frame.begin_us) & (column.time_us <= frame.end_us)
    order = np.argsort(column.time_us[good], kind="stable")
    time_us, tension_kpa = column.time_us[good][order], column.tension_kpa[good][order]
    gap_us = max(_GAP_INTERVALS * setup.interval_s * 1e6, (frame.end_us - frame.begin_us) / _BLOCKS)
    cuts = np.flatnonzero(np.diff(time_us) > gap_us) + 1
    for number, part in enumerate(np.split(np.arange(len(time_us)), cuts)):
        points = _envelope(time_us[part], np.clip(tension_kpa[part], _LOWEST_KPA, _HIGHEST_KPA), frame)
        yield Series(Look.LINE, points, "" if number else "readings")


def _soil(trial: Trial, name: str, frame: Frame) -> Iterator[Series]:
    time_us = trial.season.soil_time_us
    within = (time_us >= frame.begin_us) & (time_us <= frame.end_us)
    tension_kpa = np.clip(trial.season.soil_kpa[name][within], _LOWEST_KPA, _HIGHEST_KPA)
    yield Series(Look.FITTED, _envelope(time_us[within], tension_kpa, frame), "true tension of the soil")


def _envelope(time_us: NDArray[np.int64], values: NDArray[np.float64], frame: Frame) -> tuple[Point, ...]:
    """Lowest and highest of each block of time, in the order in which they come: no short excursion is lost."""
    if not len(time_us):
        return ()
    width_us = max(1.0, (frame.end_us - frame.begin_us) / _BLOCKS)
    block = ((time_us - frame.begin_us) / width_us).astype(np.int64)
    points: dict[int, float] = {}
    for part in np.split(np.arange(len(time_us)), np.flatnonzero(np.diff(block)) + 1):
        for at in (int(part[np.argmin(values[part])]), int(part[np.argmax(values[part])])):
            points[at] = float(values[at])
    return tuple((frame.days(int(time_us[at])), points[at]) for at in sorted(points))
