"""Daily ripple: what warmth does to gas in the tubes and to the transducers."""

import numpy as np
from numpy.typing import NDArray

from parchd.simulator.chance import stream
from parchd.simulator.scene import Scene
from parchd.simulator.vacuum import Followed

Floats = NDArray[np.float64]
GAS_DAYS, GAS_KPA = 22.0, 25.0
"""So many days at this tension double the ripple of a tube."""
FREE_KPA = 5.0
"""Below this tension water follows the warmth through the cup and ripple fades: standing water shows none."""
STRONG_SHARE, STRONG_KPA = 0.2, (9.0, 15.0)
"""Sound tubes with much ripple: how many, and peak to peak in dry soil, in hot weeks, long after a service."""
STRONGEST_KPA = 9.0
WEEK_SLOTS = 7 * 96


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
    pull = np.maximum(soil_kpa, 0.0)
    wetness = (0.35 + 0.65 * pull / (pull + 20.0)) * np.clip(pull / FREE_KPA, 0.05, 1.0)
    gas = _gas(scene, soil_kpa)
    size = np.maximum(least * (1.0 + eager * gas) * wetness, _strong(scene, pull, gas))
    ripple: Floats = np.where(tubes.dead, empty, size) * course
    return ripple


def _strong(scene: Scene, pull_kpa: Floats, gas: Floats) -> Floats:
    """Give half the ripple of those few that ripple much: a little in spring, most in hot weeks; 0 for all others."""
    random, rows = stream(scene.plan.seed, "strong ripple"), len(scene.farm.names)
    half = np.where(random.random(rows) < STRONG_SHARE, random.uniform(*STRONG_KPA, rows) / 2.0, 0.0)
    grown = 0.12 + 0.88 * (1.0 - np.exp(-1.5 * gas))
    hot = scene.grid.at_slots(_heat(scene))[:, None]
    strong = half * grown * hot * pull_kpa / (pull_kpa + 4.0)
    return np.minimum(strong, np.minimum(STRONGEST_KPA / 2.0, 0.4 * pull_kpa))


def _heat(scene: Scene) -> Floats:
    """Give how hot each week is, half for the coolest of the season to one for the hottest, over a usual day's sun."""
    weeks = np.convolve(
        np.pad(scene.weather.top_c, WEEK_SLOTS // 2, mode="reflect"), np.full(WEEK_SLOTS, 1.0 / WEEK_SLOTS)
    )
    mean = weeks[WEEK_SLOTS - 1 : WEEK_SLOTS - 1 + len(scene.weather.top_c)]
    heat = 0.5 + 0.5 * (mean - mean.min()) / max(float(np.ptp(mean)), 1.0)
    sunny = float(np.quantile(scene.weather.clear, 0.8))
    course: Floats = np.append(heat[:1], heat) / sunny
    return course


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
