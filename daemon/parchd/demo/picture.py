"""What the screen shows at one moment; made by `parchd.demo.watch`, drawn by `parchd.demo.drawing`."""

from dataclasses import dataclass
from enum import StrEnum

from parchd.demo.news import News


class Sign(StrEnum):
    """States that have a shape of their own, so that no colour is needed to tell them apart."""

    ENOUGH = "enough"
    PLAN = "plan"
    NOW = "now"
    UNKNOWN = "unknown"
    WELL = "well"
    FAULT = "fault"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class Point:
    """A past reading: how many minutes ago, and its tension; ``None``: it had none."""

    age_min: float
    tension_kpa: float | None


@dataclass(frozen=True, slots=True)
class Gauge:
    """One tensiometer. ``tension_kpa`` is ``None`` while there is no value that can be shown."""

    name: str
    depth_cm: float
    tension_kpa: float | None
    sign: Sign
    words: str
    history: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class ZonePicture:
    """One zone with its limits, and what it needs."""

    title: str
    plan_kpa: float | None
    now_kpa: float | None
    sign: Sign
    words: str
    tension_kpa: float | None
    gauges: tuple[Gauge, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """All of it.

    Args:
        site: the farm's name.
        time: its date and time of day.
        speed: times faster than life.
        scale_kpa: where the scale of all bars ends.
        zones: in the order of the configuration.
        news: what happened, the newest last.
    """

    site: str
    time: str
    speed: float
    scale_kpa: float
    zones: tuple[ZonePicture, ...]
    news: tuple[News, ...] = ()
