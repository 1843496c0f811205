"""Climates, in words and numbers."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Climate:
    """Where a farm lies.

    Args:
        time_zone: IANA name.
        offset_h: of its standard time.
        start_days: first and last day of the year on which a season may begin.
        summer_day: day of the year with most sun.
        mean_c, swing_c: yearly mean temperature, and how far summer lies above it.
        daily_c: half of what the air warms in a clear day.
        et_low_mm, et_high_mm: potential evapotranspiration of clear days in winter and in summer.
        storm_every_d: mean days between storms, in the wettest and the driest part of the year.
        wettest_day: day of the year.
        storm_mm: mean rain of a storm.
        cloud: how much clouds take, 0 to 1.
        altitudes_m: lowest and highest.
    """

    time_zone: str
    offset_h: float
    start_days: tuple[int, int]
    summer_day: int
    mean_c: float
    swing_c: float
    daily_c: float
    et_low_mm: float
    et_high_mm: float
    storm_every_d: tuple[float, float]
    wettest_day: int
    storm_mm: float
    cloud: float
    altitudes_m: tuple[float, float]


CLIMATES: Mapping[str, Climate] = MappingProxyType(
    {
        "dry summer": Climate(
            "Europe/Lisbon", 0.0, (60, 110), 180, 17.0, 8.0, 8.0, 1.5,
            7.5, (6.0, 60.0), 15, 12.0, 0.25, (0, 500),
        ),
        "temperate": Climate(
            "Europe/Berlin", 1.0, (95, 125), 175, 10.0, 9.0, 6.0, 0.6,
            5.0, (4.0, 7.0), 200, 8.0, 0.6, (0, 400),
        ),
        "continental": Climate(
            "America/Denver", -7.0, (100, 125), 180, 9.0, 13.0, 8.0, 0.8,
            7.0, (6.0, 10.0), 150, 11.0, 0.45, (200, 1700),
        ),
        "cold spring": Climate(
            "Europe/Helsinki", 2.0, (75, 95), 178, 6.0, 11.0, 6.0, 0.5,
            4.5, (5.0, 7.0), 210, 7.0, 0.6, (0, 800),
        ),
        "desert": Climate(
            "America/Phoenix", -7.0, (20, 110), 180, 22.0, 10.0, 9.0, 2.5,
            9.0, (30.0, 90.0), 210, 10.0, 0.15, (0, 700),
        ),
        "tropical highland": Climate(
            "Africa/Nairobi", 3.0, (1, 300), 50, 19.0, 2.0, 7.0, 3.5,
            5.5, (3.0, 25.0), 110, 13.0, 0.5, (1000, 2000),
        ),
        "southern dry": Climate(
            "Australia/Adelaide", 9.5, (250, 290), 5, 16.0, 6.0, 8.0, 1.5,
            8.0, (6.0, 30.0), 190, 9.0, 0.3, (0, 400),
        ),
    }
)  # fmt: skip
