"""The options of the source ``sim`` for each board of the farm."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import time

from parchd.demo.configuration import ADC_BITS, FULL_SCALE_V, SUPPLY
from parchd.demo.farm import CREEK, INTERVAL_S, NORTH, NURSERY, Tensiometer, Zone
from parchd.demo.script import TROUBLES, WATERINGS, Trouble, Watering

FRONT_M_PER_MIN = 0.3 / 60
"""How fast water goes down in the simulated soil; the demo's cups stand as deep as it gets in the minutes they say."""
NOON_AT = time(5, 30)
"""The simulated sun stands high while the farm's clock shows the early morning: a real night would show nothing."""
SUN_PEAK_H = 13.0
IRRIGATION_H = 1.0

Options = dict[str, object]


@dataclass(frozen=True, slots=True)
class Board:
    """A microcontroller with the tensiometers of one zone.

    Args:
        name: of its thread and in the log.
        zone: whose tensiometers it reads.
        options: of the source ``sim`` that plays it.
    """

    name: str
    zone: Zone
    options: Options

    @property
    def channels(self) -> tuple[str, ...]:
        """What it reads, in the order of a line."""
        return tuple(tensiometer.name for tensiometer in self.zone.tensiometers)


def boards(elapsed_min: float) -> tuple[Board, ...]:
    """Make the boards of a farm whose script began ``elapsed_min`` minutes ago."""
    converter = {"output": "counts", "bits": ADC_BITS, "reference_v": FULL_SCALE_V, "supply_swing_v": 0.05}
    volts = {"output": "V", "bits": 16}
    return (
        Board("north", NORTH, {**_field(NORTH, elapsed_min, 1), "transducer": converter, "supply_channel": SUPPLY}),
        Board("creek", CREEK, {**_field(CREEK, elapsed_min, 2), "transducer": volts}),
        Board("nursery", NURSERY, {**_field(NURSERY, elapsed_min, 3), "transducer": volts}),
    )


def _field(zone: Zone, elapsed_min: float, seed: int) -> Options:
    names = {tensiometer.name for tensiometer in zone.tensiometers}
    return {
        "interval_s": INTERVAL_S,
        "seed": seed,
        "utc_offset_h": SUN_PEAK_H - NOON_AT.hour - NOON_AT.minute / 60,
        "irrigation_h": IRRIGATION_H,
        "tensiometers": {tensiometer.name: _cup(zone, tensiometer) for tensiometer in zone.tensiometers},
        "irrigations": _irrigations(WATERINGS, zone, elapsed_min),
        "faults": _faults(TROUBLES, names, elapsed_min),
    }


def _cup(zone: Zone, tensiometer: Tensiometer) -> Options:
    soil = tensiometer.soil
    return {
        "depth_m": soil.wet_after_min * FRONT_M_PER_MIN,
        "height_m": tensiometer.height_cm / 100,
        "start_kpa": soil.start_kpa,
        "drying_kpa_per_day": soil.drying_kpa_per_day,
        "irrigate_at_kpa": zone.valve_opens_kpa if tensiometer.depth_cm == _shallowest_cm(zone) else "never",
        "irrigation_share": soil.wet_share,
        "valve": zone.key,
        "lag_s": 60.0,
        "noise_kpa": 0.03,
    }


def _shallowest_cm(zone: Zone) -> int:
    return min(tensiometer.depth_cm for tensiometer in zone.tensiometers)


def _irrigations(waterings: Iterable[Watering], zone: Zone, elapsed_min: float) -> Sequence[Options]:
    return [
        {"after_s": _after_s(watering.begin_min, elapsed_min), "valve": zone.key}
        for watering in waterings
        if watering.zone == zone.key
    ]


def _faults(troubles: Iterable[Trouble], names: set[str], elapsed_min: float) -> Sequence[Options]:
    return [
        {
            "channel": trouble.tensiometer,
            "kind": trouble.kind,
            "after_s": _after_s(trouble.begin_min, elapsed_min),
            "for_s": (trouble.end_min - trouble.begin_min) * 60,
        }
        for trouble in troubles
        if trouble.tensiometer in names
    ]


def _after_s(minute: float, elapsed_min: float) -> float:
    return max(0.0, minute - elapsed_min) * 60
