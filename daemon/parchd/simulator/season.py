"""A whole season: the records that gateways delivered, and the truth behind them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from parchd.clock import to_datetime
from parchd.pipeline.setup import PipelineSetup
from parchd.simulator.care import services
from parchd.simulator.climate import CLIMATES
from parchd.simulator.delivery import Track, tracks
from parchd.simulator.farm import Farm
from parchd.simulator.field import Field, Soil
from parchd.simulator.frost import cold
from parchd.simulator.grid import SLOT_US, grid_of
from parchd.simulator.instrument import cups, droughts, run
from parchd.simulator.plan import Plan
from parchd.simulator.ripple import ripple_kpa
from parchd.simulator.scene import Scene
from parchd.simulator.transducer_faults import measured
from parchd.simulator.truth import Fault, Service, Water
from parchd.simulator.weather import weather
from parchd.simulator.wire_faults import sent

__all__ = ["Fault", "Season", "Service", "Track", "Water", "simulate"]


@dataclass(frozen=True, slots=True)
class Season:
    """What a season left.

    Args:
        seed: it came from.
        description: soil, crop, climate and interval in words.
        setup: what the pipeline knows of the tensiometers.
        barometer_channel: ``source/channel``, or ``None``.
        start_us, end_us: of the season.
        tracks: by ``source/channel``, temperature and pressure of the air among them.
        faults: what was wrong, by time.
        waters: what fell and was given, by time.
        services: who topped tubes up.
        soil_kpa: true tension at each cup, by tensiometer, at ``soil_time_us``.
        water_lost_share: how far the soil's water balance is off, as a share of what moved.
    """

    seed: int
    description: Mapping[str, str]
    setup: PipelineSetup
    barometer_channel: str | None
    start_us: int
    end_us: int
    tracks: Mapping[str, Track]
    faults: tuple[Fault, ...]
    waters: tuple[Water, ...]
    services: tuple[Service, ...]
    soil_kpa: Mapping[str, NDArray[np.float64]]
    soil_time_us: NDArray[np.int64]
    water_lost_share: float = 0.0


def simulate(plan: Plan) -> Season:
    """Let a season happen. The same plan gives the same season, bit for bit."""
    farm, grid = Farm(plan), grid_of(plan)
    climate = CLIMATES[plan.climate]
    local = to_datetime(plan.start_us) + timedelta(hours=climate.offset_h)
    hour = local.hour + local.minute / 60.0
    sky = weather(plan.seed, climate, local.timetuple().tm_yday, plan.days, hour, plan.altitude_m)
    scene = Scene(farm, grid, sky, services(farm, hour))
    made = cups(scene)
    soil = Field(farm, sky, droughts(scene, made)).run()
    fine_kpa = grid.at_slots(soil.tension_kpa)
    frost = cold(scene)
    tubes = run(scene, made, fine_kpa, frost.ice_kpa)
    vacuum = _sampled(plan, grid.each, tubes.vacuum_kpa + ripple_kpa(scene, fine_kpa, tubes))
    air_kpa = grid.at_slots(np.append(sky.air_kpa[:1], sky.air_kpa))[grid.each - 1 :: grid.each]
    numbers = sent(scene, measured(scene, vacuum, air_kpa))
    delivered = tracks(scene, numbers, frost.top_c, air_kpa)
    return Season(
        seed=plan.seed,
        description=_description(plan),
        setup=farm.setup,
        barometer_channel=farm.barometer_channel,
        start_us=plan.start_us,
        end_us=plan.end_us,
        tracks=delivered,
        faults=tuple(sorted(scene.faults, key=lambda fault: (fault.start_us, fault.kind, fault.subject))),
        waters=_waters(plan, soil, sky.storms),
        services=scene.services,
        soil_kpa={name: soil.tension_kpa[:, row] for row, name in enumerate(farm.names)},
        soil_time_us=plan.start_us + SLOT_US * np.arange(len(soil.tension_kpa), dtype=np.int64),
        water_lost_share=soil.lost_share,
    )


def _sampled(plan: Plan, each: int, course: NDArray[np.float64]) -> NDArray[np.float64]:
    if not plan.averaged:
        return course[each - 1 :: each]
    means: NDArray[np.float64] = course.reshape(-1, each, course.shape[1]).mean(axis=1)
    return means


def _waters(plan: Plan, soil: Soil, storms: tuple[tuple[int, int, float], ...]) -> tuple[Water, ...]:
    def at(slot: int) -> int:
        return plan.start_us + slot * SLOT_US

    given = [Water("irrigation", plan.zones[gift.zone], at(gift.first), at(gift.last), gift.mm) for gift in soil.gifts]
    fell = [Water("rain", zone, at(first), at(last), mm) for first, last, mm in storms for zone in plan.zones]
    return tuple(sorted(given + fell, key=lambda water: (water.start_us, water.zone)))


def _description(plan: Plan) -> dict[str, str]:
    return {
        "soil": ", ".join(f"{zone}: {soil}" for zone, soil in zip(plan.zones, plan.soils, strict=True)),
        "crop": plan.crop,
        "climate": plan.climate,
        "interval": f"{plan.interval_s / 60.0:g} min, {'means' if plan.averaged else 'single samples'}",
        "wiring": ", ".join(f"{source}: {plan.wiring_of(source)}" for source in plan.sources),
        "altitude": f"{plan.altitude_m:g} m",
    }
