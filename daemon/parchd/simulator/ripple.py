"""Daily ripple: what warmth does to gas in the tubes and to the transducers."""

import numpy as np
from numpy.typing import NDArray

from parchd.simulator.chance import stream
from parchd.simulator.scene import Scene
from parchd.simulator.vacuum import Followed

Floats = NDArray[np.float64]
GAS_DAYS, GAS_KPA = 22.0, 25.0
"""So many days at this tension double the ripple of a tube."""


def ripple_kpa(scene: Scene, soil_kpa: Floats, tubes: Followed) -> Floats:
    """Give what the day adds to the vacuum of each tube: most in the evening."""
    farm, grid = scene.farm, scene.grid
    rows = len(farm.names)
    random = stream(scene.plan.seed, "ripple")
    peak_h = random.uniform(19.0, 21.0, rows)
    least: Floats = (0.08 + 1.2 * scene.plan.ripple) * random.uniform(0.4, 1.3, rows)
    least *= np.where(farm.depth_m > 0.4, 0.7, 1.0)
    eager = random.uniform(0.4, 1.4, rows)
    empty = random.uniform(0.12, 0.5, rows)
    hour = grid.at_slots(np.append(scene.weather.hour[0] - 0.25, _unwrapped(scene.weather.hour)))
    clear = grid.at_slots(np.append(scene.weather.clear[:1], scene.weather.clear))
    course = np.cos(2.0 * np.pi * (hour[:, None] - peak_h) / 24.0) * clear[:, None]
    wetness = 0.35 + 0.65 * np.maximum(soil_kpa, 0.0) / (np.maximum(soil_kpa, 0.0) + 20.0)
    size = least * (1.0 + eager * _gas(scene, soil_kpa)) * wetness
    ripple: Floats = np.where(tubes.dead, empty, size) * course
    return ripple


def _unwrapped(hour: Floats) -> Floats:
    onward: Floats = hour[0] + 0.25 * np.arange(len(hour))
    return onward


def _gas(scene: Scene, soil_kpa: Floats) -> Floats:
    """Give how much gas came out of the water of each tube since somebody topped it up."""
    step_d = scene.grid.step_s / 86_400.0
    gas = np.cumsum(np.maximum(soil_kpa, 0.0), axis=0) * (step_d / GAS_DAYS / GAS_KPA)
    for service in scene.services:
        moment = scene.grid.index(service.end_us)
        for name in service.tensiometers:
            row = scene.farm.names.index(name)
            if moment < len(gas):
                gas[moment:, row] -= 0.9 * gas[moment, row]
    return gas
