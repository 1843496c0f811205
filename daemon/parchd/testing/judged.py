"""Seasons that were judged by hand, for tests of what is made of them."""

from dataclasses import replace

from parchd.diagnosis.findings import Fact, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.run import Chain
from parchd.evaluation.score import Judged, Mark, Stray
from parchd.evaluation.showing import Showing
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.season import Fault

DAY_US = 24 * HOUR_US
NAME = "north-1-30"
PLAN = Plan(7, days=180, start_us=0)


def fault(kind: FindingKind = FindingKind.LOST_WATER, form: str = "", name: str = NAME) -> Fault:
    """A fault that begins on day 10 and holds."""
    return Fault(kind, f"tensiometer/{name}", 10 * DAY_US, None, 3.0, (), form)


def chain(kind: FindingKind = FindingKind.LOST_WATER, after_h: float = 4.0, name: str = NAME) -> Chain:
    """A finding so long after such a fault began; it dates the fault an hour early."""
    found_us = 10 * DAY_US + round(after_h * HOUR_US)
    facts = (Fact("fell by", 12.5, "kPa"), Fact("since", 10 * DAY_US, "time"))
    return Chain((Finding(FindingKey(kind, f"tensiometer/{name}"), 10 * DAY_US - HOUR_US, found_us, 0.9, facts),))


def found(kind: FindingKind = FindingKind.LOST_WATER, after_h: float = 4.0, form: str = "") -> Judged:
    """A fault that shows after an hour and was found."""
    return Judged(fault(kind, form), Showing(10 * DAY_US + HOUR_US), Mark.FOUND, chain(kind, after_h))


def missed(kind: FindingKind = FindingKind.LOST_WATER, wrong: tuple[Chain, ...] = (), form: str = "") -> Judged:
    """A fault that was missed."""
    return Judged(fault(kind, form), Showing(10 * DAY_US), Mark.MISSED, None, wrong)


def aside(kind: FindingKind = FindingKind.LOST_WATER) -> Judged:
    """A fault that cannot be seen."""
    return Judged(fault(kind), Showing(None, "no reading differs"), Mark.ASIDE)


def season(
    seed: int, *judged: Judged, strays: tuple[Stray, ...] = (), faulty: bool = True, size: float = 0.5
) -> SeasonResult:
    """Half a year of four healthy tensiometers; each fault was planned with a size."""
    plan = replace(PLAN, seed=seed)
    faults = tuple(FaultPlan(one.fault.kind, one.fault.subject, one.fault.start_us, size) for one in judged)
    chains = tuple(one.chain for one in judged if one.chain is not None)
    return SeasonResult(
        seed=seed,
        faulty=faulty,
        description="loam; tomatoes; dry summer",
        plan=replace(plan, faults=faults),
        start_us=0,
        years=0.5,
        healthy=("creek-1-30", "creek-1-60", "creek-2-30", "creek-2-60"),
        quiet=4 - sum(stray.beside is None for stray in strays),
        soils={NAME: "loam"},
        judged=judged,
        strays=strays,
        chains=(*chains, *(stray.chain for stray in strays)),
    )
