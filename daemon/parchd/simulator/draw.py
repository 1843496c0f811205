"""Seasons drawn at random: any soil, crop, climate, wiring, and whatever can go wrong."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from parchd.clock import from_datetime
from parchd.contract import Unit
from parchd.physics.retention import SOILS
from parchd.simulator.chance import stream
from parchd.simulator.climate import CLIMATES, Climate
from parchd.simulator.crop import CROPS
from parchd.simulator.draw_faults import Faults, draw_faults
from parchd.simulator.farm import Farm
from parchd.simulator.plan import Plan
from parchd.simulator.wiring import WIRINGS

INTERVALS_S = (600.0, 900.0, 1800.0, 3600.0)
FROSTY = ("temperate", "continental", "cold spring")
_EARLIER_DAYS = 25


def draw_plan(seed: int, *, faults: bool, days: int = 180) -> Plan:
    """Draw a season: a healthy one, or one in which up to a third of the tensiometers go wrong.

    >>> draw_plan(5, faults=True) == draw_plan(5, faults=True)
    True
    >>> draw_plan(5, faults=False).faults
    ()
    """
    random = stream(seed, "plan")
    frosty = faults and random.random() < 0.25
    climate_name = str(random.choice(FROSTY if frosty else list(CLIMATES)))
    climate = CLIMATES[climate_name]
    plan = Plan(
        seed=seed,
        days=days,
        start_us=_start_us(random, climate, _EARLIER_DAYS if frosty else 0),
        interval_s=float(random.choice(INTERVALS_S)),
        soils=tuple(str(soil) for soil in random.choice(list(SOILS), 3)),
        crop=str(random.choice(list(CROPS))),
        climate=climate_name,
        wirings=(),
        one_source=bool(random.random() < 0.3),
        averaged=bool(random.random() < 0.5),
        altitude_m=float(round(random.uniform(*climate.altitudes_m))),
        services=int(random.integers(1, 4)),
        thermometer=frosty or bool(random.random() < 0.4),
        barometer=bool(random.random() < 0.3),
        ripple=float(random.uniform(0.05, 1.0)),
        noise_kpa=float(np.exp(random.uniform(np.log(0.01), np.log(0.15)))),
    )
    drawn = draw_faults(random, Farm(plan), frosty=frosty) if faults else Faults()
    return _fitted(random, plan, drawn)


def _fitted(random: np.random.Generator, plan: Plan, drawn: Faults) -> Plan:
    """Wire the transducers so that the faults can show, and let a barometer stand where one is needed."""
    wirings = tuple(_wiring(random, drawn, source) for source in plan.sources)
    return replace(plan, faults=drawn.plans, wirings=wirings, barometer=plan.barometer or drawn.needs_air)


def _wiring(random: np.random.Generator, drawn: Faults, source: str) -> str:
    rails, wires, pressure = drawn.needs_rails(source), drawn.needs_wires(source), drawn.needs_pressure(source)
    fit = [
        name
        for name, wiring in WIRINGS.items()
        if (wiring.has_rails or not rails)
        and (wiring.tells_open or not wires)
        and (wiring.unit is Unit.KPA or not pressure)
    ]
    return str(random.choice(fit))


def _start_us(random: np.random.Generator, climate: Climate, earlier: int) -> int:
    first, last = climate.start_days
    day = int(random.integers(first, last + 1)) - earlier
    year = int(random.integers(2018, 2026))
    moment = datetime(year, 1, 1, int(random.integers(0, 24)), tzinfo=UTC) + timedelta(days=max(day, 1) - 1)
    return from_datetime(moment)
