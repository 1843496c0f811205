"""The weather of one season: sun, clouds, rain, warmth, pressure of the air."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.physics.atmosphere import station_pressure_kpa
from parchd.simulator.chance import stream
from parchd.simulator.climate import Climate

Floats = NDArray[np.float64]

SLOTS_PER_DAY = 96
"""The weather and the soil are kept for each quarter of an hour."""
_SUNRISE_H, _SUNSET_H = 6.0, 19.0
_SUN_MEAN = 0.3168


@dataclass(frozen=True, slots=True)
class Weather:
    """One number for each slot of 15 minutes.

    Args:
        hour: local solar hour, 0 to 24, in the middle of the slot.
        et_mm_d: potential evapotranspiration, as a rate.
        rain_mm_h: as a rate.
        storms: first and last slot (exclusive) and mm of each storm.
        top_c: temperature of the air and of what stands above ground.
        air_kpa: pressure of the air at the site.
        clear: share of the sun of a clear day.
    """

    hour: Floats
    et_mm_d: Floats
    rain_mm_h: Floats
    storms: tuple[tuple[int, int, float], ...]
    top_c: Floats
    air_kpa: Floats
    clear: Floats


def weather(
    seed: int, climate: Climate, day_of_year: int, days: int, hour_at_start: float, altitude_m: float
) -> Weather:
    """Draw the weather of a season that begins at a local hour of a day of the year."""
    slots = days * SLOTS_PER_DAY
    time_d = (np.arange(slots) + 0.5) / SLOTS_PER_DAY
    local_d = time_d + hour_at_start / 24.0
    hour = (local_d % 1.0) * 24.0
    season = np.cos(2.0 * np.pi * (day_of_year + local_d - climate.summer_day) / 365.25)
    clear = _clear(stream(seed, "clouds"), climate, days + 2)[local_d.astype(np.int64)]
    et_day = climate.et_low_mm + (climate.et_high_mm - climate.et_low_mm) * (season + 1.0) / 2.0
    storms, rain = _storms(stream(seed, "storms"), climate, day_of_year, slots)
    top_c = _top_c(stream(seed, "warmth"), climate, local_d, hour, season, clear)
    air_kpa = _air_kpa(stream(seed, "air"), slots, hour, altitude_m)
    return Weather(hour, et_day * clear * _sun(hour), rain, storms, top_c, air_kpa, clear)


def _sun(hour: Floats) -> Floats:
    """Course of the sun, with a mean of one over the day."""
    height = np.maximum(np.sin(np.pi * (hour - _SUNRISE_H) / (_SUNSET_H - _SUNRISE_H)), 0.0)
    height[(hour < _SUNRISE_H) | (hour > _SUNSET_H)] = 0.0
    course: Floats = height**1.3
    return course / _SUN_MEAN


def wander(random: np.random.Generator, size: int, memory: float) -> Floats:
    """Give steps of a walk that forgets: mean 0, standard deviation 1."""
    pushes = random.standard_normal(size) * np.sqrt(1.0 - memory * memory)
    out = np.empty(size)
    now = float(random.standard_normal())
    for number, push in enumerate(pushes.tolist()):
        now = memory * now + push
        out[number] = now
    return out


def _clear(random: np.random.Generator, climate: Climate, days: int) -> Floats:
    """Share of the sun that each day gets."""
    cover = 1.0 / (1.0 + np.exp(-1.6 * (wander(random, days, 0.5) - 0.6)))
    share: Floats = 1.0 - climate.cloud * cover
    return share


def _storms(
    random: np.random.Generator, climate: Climate, day_of_year: int, slots: int
) -> tuple[tuple[tuple[int, int, float], ...], Floats]:
    rain = np.zeros(slots)
    storms = []
    wet, dry = climate.storm_every_d
    at_d = float(random.exponential(wet))
    while (first := int(at_d * SLOTS_PER_DAY)) < slots:
        wetness = (1.0 + np.cos(2.0 * np.pi * (day_of_year + at_d - climate.wettest_day) / 365.25)) / 2.0
        hours = float(random.uniform(0.5, 8.0))
        last = min(first + max(1, round(hours * 4)), slots)
        millimetres = float(random.exponential(climate.storm_mm)) + 0.5
        shape = random.random(last - first) + 0.2
        rain[first:last] += millimetres * shape / shape.sum() * 4.0
        storms.append((first, last, millimetres))
        at_d += hours / 24.0 + float(random.exponential(1.0 / (wetness / wet + (1.0 - wetness) / dry)))
    return tuple(storms), rain


def _top_c(
    random: np.random.Generator, climate: Climate, local_d: Floats, hour: Floats, season: Floats, clear: Floats
) -> Floats:
    days = int(local_d[-1]) + 2
    spell = wander(random, days, 0.7) * 2.5
    smooth = np.interp(local_d, np.arange(days) + 0.5, spell)
    day_course = np.cos(2.0 * np.pi * (hour - 15.0) / 24.0)
    warmth: Floats = climate.mean_c + climate.swing_c * season + smooth + climate.daily_c * clear * day_course
    return warmth


def _air_kpa(random: np.random.Generator, slots: int, hour: Floats, altitude_m: float) -> Floats:
    every = 12
    coarse = wander(random, slots // every + 2, 0.955)
    synoptic = 0.75 * np.interp(np.arange(slots) / every, np.arange(len(coarse)), coarse)
    tide = 0.1 * np.cos(2.0 * np.pi * (hour - 10.0) / 12.0)
    air: Floats = station_pressure_kpa(altitude_m) + synoptic + tide
    return air
