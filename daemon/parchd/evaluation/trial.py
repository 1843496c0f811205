"""One season, ready to be put through the diagnosis again and again."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from parchd.contract import Unit
from parchd.evaluation.differing import CHANGE_THE_SOIL
from parchd.evaluation.showing import Showing, showing, visible_kpa
from parchd.simulator.convert import Columns, readings
from parchd.simulator.draw import draw_plan
from parchd.simulator.plan import Plan
from parchd.simulator.season import Season, simulate


@dataclass(frozen=True, slots=True)
class Trial:
    """A simulated season with its readings.

    Args:
        season: its tracks are left out.
        columns: readings, by channel.
        units: of the samples, by channel.
        showings: from when on each of the season's faults can be seen.
    """

    plan: Plan
    season: Season
    columns: Mapping[str, Columns]
    units: Mapping[str, Unit]
    showings: tuple[Showing, ...]

    @property
    def seed(self) -> int:
        return self.plan.seed


def simulated(seed: int, *, faults: bool, days: int) -> Trial:
    """Simulate a season, and once more without its faults to know what they change."""
    return trial_of(draw_plan(seed, faults=faults, days=days))


def trial_of(plan: Plan) -> Trial:
    """Simulate what is planned."""
    season = simulate(plan)
    columns = _columns(season)
    units = {channel: track.unit for channel, track in season.tracks.items()}
    return Trial(plan, replace(season, tracks={}), columns, units, _showings(plan, season, columns))


def _columns(season: Season) -> dict[str, Columns]:
    """All that arrives: readings, and the samples of channels that belong to no tensiometer."""
    columns = readings(season)
    for channel in season.tracks.keys() - columns.keys():
        track = season.tracks[channel]
        none = np.full(len(track.value), np.nan)
        plain = np.zeros(len(track.value), dtype=np.uint8)
        columns[channel] = Columns(track.time_us, track.received_us, track.value, none, none, plain)
    return columns


def _showings(plan: Plan, season: Season, columns: Mapping[str, Columns]) -> tuple[Showing, ...]:
    if not season.faults:
        return ()
    healthy = simulate(replace(plan, faults=tuple(one for one in plan.faults if one.kind in CHANGE_THE_SOIL)))
    twin, limits = readings(healthy), visible_kpa(healthy)
    return tuple(showing(fault, season, columns, twin, limits) for fault in season.faults)
