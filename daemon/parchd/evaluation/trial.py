"""One season, ready to be put through the diagnosis again and again."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from parchd.contract import Unit
from parchd.evaluation.showing import Showing, showing, visible_kpa
from parchd.simulator.convert import Columns, readings
from parchd.simulator.plan import Plan, draw_plan
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


def simulated(seed: int, *, faults: bool) -> Trial:
    """Simulate a season, and once more without its faults to know what they change."""
    return trial_of(draw_plan(seed, faults=faults))


def trial_of(plan: Plan) -> Trial:
    """Simulate what is planned."""
    season = simulate(plan)
    columns = readings(season)
    units = {channel: track.unit for channel, track in season.tracks.items()}
    return Trial(plan, replace(season, tracks={}), columns, units, _showings(plan, season, columns))


def _showings(plan: Plan, season: Season, columns: Mapping[str, Columns]) -> tuple[Showing, ...]:
    if not season.faults:
        return ()
    healthy = simulate(replace(plan, faults=()))
    twin, limits = readings(healthy), visible_kpa(healthy)
    return tuple(showing(fault, season, columns, twin, limits) for fault in season.faults)
