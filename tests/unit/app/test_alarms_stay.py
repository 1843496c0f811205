"""After each fault an irrigation alarm that was active stays active: nothing but water in the soil clears it.

Seasons of the simulator run through the whole engine. The truth is known: whenever the alarm of a tensiometer clears,
the soil at its cup must have been wet enough within the hours before.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from parchd.alarms.rules import Delays, IrrigationRule
from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.simulator.plan import FaultPlan, Plan
from parchd.simulator.season import Season, simulate
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.season import arrivals, season_setup

HOUR_US = 3600 * US_PER_S
DAY_US = 24 * HOUR_US
PLAN = Plan(
    3, days=26, interval_s=1800.0, soils=("silt loam",), stations=2, climate="desert", crop="alfalfa", services=0,
    troubles=0.0, ripple=0.3, barometer=True, thermometer=True,
)  # fmt: skip
NAME = "north-1-30"
SHARED = {
    FindingKind.NOISY_SUPPLY, FindingKind.DROP_OUTS, FindingKind.SILENT_SOURCE, FindingKind.WRONG_CLOCK,
    FindingKind.FROST_RISK, FindingKind.FROZEN,
}  # fmt: skip
FALSE_WET = {
    FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.AIR_LEAK, FindingKind.CRACKED_CUP,
    FindingKind.POOR_CONTACT, FindingKind.LEVEL_SHIFT, FindingKind.ZERO_DRIFT, FindingKind.FROZEN,
}  # fmt: skip
"""Mild ones may be the worse ones."""
CASES = [
    (kind, form, size)
    for kind in FindingKind
    for form in (("collapse", "slow") if kind is FindingKind.LOST_WATER else ("",))
    for size in ((0.35, 0.9) if kind in FALSE_WET else (0.9,))
]
DRY_SHARE = 0.7
"""The alarm's limit, as a share of the tension when the fault begins."""
SEEN_H = 24
"""Water is believed so long after it came at the latest, else the alarm waits for the next."""


@cache
def dry_moment() -> tuple[int, float]:
    """When the soil is driest with another day and a half without water to come, and its tension then."""
    season = simulate(PLAN)
    kpa, step_us = season.soil_kpa[NAME], int(season.soil_time_us[1] - season.soil_time_us[0])
    ahead = 36 * HOUR_US // step_us
    days = range(5 * DAY_US // step_us, 18 * DAY_US // step_us)
    best = max((n for n in days if kpa[n : n + ahead].min() >= 0.95 * kpa[n]), key=lambda n: float(kpa[n]))
    return int(season.soil_time_us[best]), float(kpa[best])


def faulty(kind: FindingKind, form: str, size: float) -> Season:
    target = "source/gateway-a" if kind in SHARED else f"tensiometer/{NAME}"
    return simulate(replace(PLAN, faults=(FaultPlan(kind, target, dry_moment()[0], size, None, form),)))


def lived(bench: Bench, season: Season) -> None:
    for arrival in arrivals(season):
        bench.turn(arrival.received_us, arrival.batch)


def alarm(bench: Bench) -> list[tuple[str, int]]:
    """When the irrigation alarm of the tensiometer was raised and cleared."""
    query = "SELECT change, time_us FROM alarm_event WHERE kind = 'irrigate-now' AND subject = ? ORDER BY id"
    return [(change, time_us) for change, time_us in bench.rows(query, f"tensiometer/{NAME}")]


def was_wet(season: Season, time_us: int, limit_kpa: float) -> bool:
    before = (season.soil_time_us > time_us - SEEN_H * HOUR_US) & (season.soil_time_us <= time_us)
    return bool(np.any(season.soil_kpa[NAME][before] <= limit_kpa))


@pytest.mark.parametrize(("kind", "form", "size"), CASES)
def test_an_alarm_stays_until_the_soil_is_wet_whatever_goes_wrong(kind: FindingKind, form: str, size: float) -> None:
    season, (onset_us, dry_kpa) = faulty(kind, form, size), dry_moment()
    assert kind in {fault.kind for fault in season.faults}
    limit_kpa = DRY_SHARE * dry_kpa
    rule = IrrigationRule(f"tensiometer/{NAME}", (NAME,), None, limit_kpa, 2.0, Delays(), None)
    with engine_on(MEMORY, season_setup(season, rule), PLAN.start_us) as bench:
        lived(bench, season)
        history = alarm(bench)
    before = [change for change, time_us in history if time_us < onset_us]
    assert before[-1:] == ["raised"], "the alarm must be active when the fault begins"
    cleared_us = [time_us for change, time_us in history if change == "cleared"]
    assert [us - onset_us for us in cleared_us if not was_wet(season, us, limit_kpa)] == []


def test_without_a_fault_the_alarm_clears_when_water_comes() -> None:
    season, limit_kpa = simulate(PLAN), DRY_SHARE * dry_moment()[1]
    rule = IrrigationRule(f"tensiometer/{NAME}", (NAME,), None, limit_kpa, 2.0, Delays(), None)
    with engine_on(MEMORY, season_setup(season, rule), PLAN.start_us) as bench:
        lived(bench, season)
        assert [change for change, _ in alarm(bench)][:2] == ["raised", "cleared"]
