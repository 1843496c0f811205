"""The invented farm: what stands where. Configuration, boards and screen are all made from it."""

from collections.abc import Iterator
from dataclasses import dataclass

SITE = "Quillmere Orchard"
TIME_ZONE = "UTC"
"""Without daylight saving the screen shows the very time that the decision window is judged by."""
ALTITUDE_M = 240.0
INTERVAL_S = 60.0
GROWER = "grower@quillmere.example"
CONTROLLER = "controller"


@dataclass(frozen=True, slots=True)
class Soil:
    """How the simulated soil around one cup behaves.

    Args:
        start_kpa: tension at the start.
        drying_kpa_per_day: what it gains in a day at 30 kPa.
        wet_after_min: minutes from the opened valve to the water at the cup.
        wet_share: how much of what is missing an irrigation brings.
    """

    start_kpa: float
    drying_kpa_per_day: float
    wet_after_min: float
    wet_share: float


@dataclass(frozen=True, slots=True)
class Tensiometer:
    """One tensiometer and the soil around its cup."""

    name: str
    station: str
    depth_cm: int
    height_cm: int
    soil: Soil


@dataclass(frozen=True, slots=True)
class Zone:
    """Ground that is watered together, with the board that its tensiometers hang on."""

    key: str
    title: str
    crop: str
    plan_kpa: float
    now_kpa: float
    valve_opens_kpa: float
    board: str
    tensiometers: tuple[Tensiometer, ...]


def _pair(station: str, shallow: Soil, deep: Soil) -> tuple[Tensiometer, Tensiometer]:
    return (
        Tensiometer(f"{station}-30", station, depth_cm=30, height_cm=50, soil=shallow),
        Tensiometer(f"{station}-60", station, depth_cm=60, height_cm=80, soil=deep),
    )


NORTH = Zone(
    "north-block", "North block", "apples", 35.0, 50.0, 55.0, "north-board",
    (
        *_pair("ridge", Soil(24.0, 16.0, 10.0, 0.4), Soil(15.0, 6.0, 20.0, 0.2)),
        *_pair("gate", Soil(20.5, 14.0, 10.0, 0.4), Soil(13.0, 5.0, 20.0, 0.2)),
    ),
)  # fmt: skip
CREEK = Zone(
    "creek-terrace", "Creek terrace", "potatoes", 33.0, 40.0, 48.0, "field",
    (
        *_pair("bridge", Soil(32.0, 100.0, 2.0, 0.4), Soil(22.0, 60.0, 10.0, 0.15)),
        *_pair("willow", Soil(33.0, 95.0, 3.0, 0.4), Soil(23.5, 60.0, 12.0, 0.15)),
    ),
)  # fmt: skip
NURSERY = Zone(
    "nursery", "Nursery", "young trees", 18.0, 25.0, 27.0, "field",
    (
        *_pair("shed", Soil(9.0, 30.0, 3.0, 0.6), Soil(7.5, 10.0, 8.0, 0.4)),
        *_pair("pond", Soil(10.5, 28.0, 3.0, 0.6), Soil(8.0, 10.0, 8.0, 0.4)),
    ),
)  # fmt: skip
ZONES = (NORTH, CREEK, NURSERY)


def tensiometers() -> Iterator[tuple[Zone, Tensiometer]]:
    """All tensiometers of the farm, zone by zone.

    >>> len(list(tensiometers())), len({(zone.key, one.station) for zone, one in tensiometers()})
    (12, 6)
    """
    for zone in ZONES:
        for tensiometer in zone.tensiometers:
            yield zone, tensiometer
