"""From a season's tracks to readings, through the daemon's own chain."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Unit
from parchd.pipeline.columns import Circumstances, ColumnConversion
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.stage import AUXILIARY_MAX_AGE_US
from parchd.simulator.season import Season, Track

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Columns:
    """Readings of one channel, in the order of delivery.

    Args:
        time_us, received_us, value: as in `Track`.
        gauge_kpa, tension_kpa: what the chain made of the value; NaN: no pressure.
        cause: numbers of `parchd.contract.Cause`.
    """

    time_us: NDArray[np.int64]
    received_us: NDArray[np.int64]
    value: Floats
    gauge_kpa: Floats
    tension_kpa: Floats
    cause: NDArray[np.uint8]


def readings(season: Season) -> dict[str, Columns]:
    """Convert every tensiometer's channel; temperature and barometer channels have no readings of their own."""
    return {setup.channel: _converted(season, setup) for setup in season.setup.tensiometers}


def _converted(season: Season, setup: TensiometerSetup) -> Columns:
    track = season.tracks[setup.channel]
    known = Circumstances(
        water_c=_beside(season, setup.temperature_channel, track),
        air_kpa=_beside(season, setup.barometer_channel, track),
    )
    made = ColumnConversion(setup)(track.value, track.unit, track.time_us, known)
    return Columns(track.time_us, track.received_us, track.value, made.gauge_kpa, made.tension_kpa, made.cause)


def _beside(season: Season, channel: str | None, track: Track) -> Floats | None:
    """Give the newest value of another channel at each sample; NaN: none, or too long ago."""
    other = season.tracks.get(channel or "")
    if other is None or not len(other.time_us):
        return None
    order = np.argsort(other.time_us, kind="stable")
    time_us = other.time_us[order]
    at = np.searchsorted(time_us, track.time_us, side="right") - 1
    value = other.value[order][np.maximum(at, 0)] * (0.1 if other.unit is Unit.HPA else 1.0)
    fresh = (at >= 0) & (track.time_us - time_us[np.maximum(at, 0)] <= AUXILIARY_MAX_AGE_US)
    return np.where(fresh, value, np.nan)
