"""What one season contributes to the evaluation: small, and good for sending between processes."""

from dataclasses import dataclass
from pathlib import Path

from parchd.evaluation.concern import subjects_of, tensiometers_of
from parchd.evaluation.keeping import kept
from parchd.evaluation.outages import borne_out
from parchd.evaluation.run import Chain, Heard, diagnose
from parchd.evaluation.score import Judged, Stray, score
from parchd.evaluation.trial import Trial
from parchd.simulator.plan import Plan
from parchd.simulator.season import Fault

YEAR_US = 365.25 * 86_400e6


@dataclass(frozen=True, slots=True)
class SeasonResult:
    """One season, judged.

    Args:
        faulty: whether faults were planned.
        healthy: names of the tensiometers that no fault concerns.
        years: length of the season.
        quiet: how many of the healthy ones nothing was said of.
        chains: all that was said.
        outages: silences that were found, and were real though nobody planned them.
        soils: by tensiometer.
    """

    seed: int
    faulty: bool
    description: str
    plan: Plan
    start_us: int
    years: float
    healthy: tuple[str, ...]
    quiet: int
    soils: dict[str, str]
    judged: tuple[Judged, ...]
    strays: tuple[Stray, ...]
    chains: tuple[Chain, ...] = ()
    outages: int = 0

    def strength(self, fault: Fault) -> float:
        """How strong a fault was planned to be, mild 0 to strong 1."""
        planned = (one.size for one in self.plan.faults if (one.kind, one.target) == (fault.kind, fault.subject))
        return next(planned, 0.5)

    @property
    def sensor_years(self) -> float:
        """Years of the healthy tensiometers together."""
        return self.years * len(self.healthy)

    @property
    def healthy_strays(self) -> tuple[Stray, ...]:
        """False findings on what no fault concerned while they were made."""
        return tuple(stray for stray in self.strays if stray.beside is None)


def season_result(seed: int, faults: bool, days: int, folder: Path | None) -> SeasonResult:
    """Simulate or fetch a season, put it through the diagnosis, and judge what was said."""
    trial = kept(seed, faults=faults, days=days, folder=folder)
    return judged_trial(trial, diagnose(trial.season, trial.columns, trial.units), faulty=faults)


def judged_trial(trial: Trial, heard: Heard, *, faulty: bool) -> SeasonResult:
    """Judge what was said of a season."""
    season, setup = trial.season, trial.season.setup
    channels = {one.place.tensiometer: one.channel for one in setup.tensiometers}
    judgement = score(
        season.faults,
        trial.showings,
        heard.chains,
        lambda fault: subjects_of(fault, setup),
        lambda chain: borne_out(chain.last, trial.columns, channels),
    )
    ill = {name for fault in season.faults for name in tensiometers_of(fault, setup)}
    healthy = tuple(one.place.tensiometer for one in setup.tensiometers if one.place.tensiometer not in ill)
    named = {chain.last.key.subject for chain in heard.chains}
    return SeasonResult(
        trial.seed, faulty, "; ".join(season.description.values()), trial.plan, season.start_us,
        (season.end_us - season.start_us) / YEAR_US, healthy,
        sum(f"tensiometer/{name}" not in named for name in healthy),
        _soils(trial), judgement.judged, judgement.strays, heard.chains, judgement.outages,
    )  # fmt: skip


def _soils(trial: Trial) -> dict[str, str]:
    soils = dict(zip(trial.plan.zones, trial.plan.soils, strict=True))
    return {one.place.tensiometer: soils.get(one.place.zone, "") for one in trial.season.setup.tensiometers}
