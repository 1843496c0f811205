"""Tensiometers that are whole: everything written, nothing contradicting."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from parchd.config.columns import KEYS, Column, Given, column_of
from parchd.config.ground import TensiometerTable
from parchd.config.origins import ROWS, Origins
from parchd.config.parts import Parts
from parchd.config.toml_lines import Loc
from parchd.contract import Problem
from parchd.quality.limits import FASTEST_DRYING_KPA_PER_H

REQUIRED = ("zone", "channel", "transducer", "depth_cm")
STATION = "main"
"""Station of tensiometers that name none: one for the zone."""
INTERVAL_S = 600.0
SILENT_INTERVALS = 3.0


@dataclass(frozen=True, slots=True)
class Tensiometer:
    """A tensiometer as it is configured, with names not looked up yet."""

    parts: Parts
    name: str
    zone: str
    station: str
    channel: str
    transducer: str
    depth_m: float
    column: Column
    supply_channel: str | None
    temperature_channel: str | None
    height_half_m: float | None
    water_half_c: float | None
    interval_s: float
    silent_intervals: float
    fastest_drying_kpa_per_h: float
    decides: bool | None
    plan_kpa: float | None
    now_kpa: float | None

    def loc(self, key: str) -> Loc:
        """Where a key of it is written; its own table if it is not."""
        return self.parts.loc(key)


@dataclass(slots=True)
class Whole:
    """All tensiometers that are whole, and what is wrong with the others."""

    tensiometers: dict[str, Tensiometer] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def make_whole(gathered: Iterable[Parts], origins: Origins, broken: set[Loc]) -> Whole:
    """Make tensiometers of their keys.

    Args:
        gathered: the keys of each.
        origins: where keys stand.
        broken: paths that could not be validated: what they leave missing is no further problem.
    """
    whole = Whole()
    for parts in gathered:
        maker = _Maker(parts, origins, broken)
        missing = [key for key in REQUIRED if not maker.has(key)]
        column = maker.column()
        whole.problems += maker.problems
        if column is not None and not missing:
            whole.tensiometers[parts.name] = _made(parts, column)
    return whole


def _made(parts: Parts, column: Column) -> Tensiometer:
    values = parts.values
    return Tensiometer(
        parts=parts,
        name=parts.name,
        zone=values["zone"],
        station=values.get("station", STATION),
        channel=values["channel"],
        transducer=values["transducer"],
        depth_m=values["depth_cm"] / 100.0,
        column=column,
        supply_channel=values.get("supply_channel"),
        temperature_channel=values.get("temperature_channel"),
        height_half_m=_metres(values.get("height_half_cm")),
        water_half_c=values.get("water_half_c"),
        interval_s=values.get("interval_s", INTERVAL_S),
        silent_intervals=values.get("silent_intervals", SILENT_INTERVALS),
        fastest_drying_kpa_per_h=values.get("fastest_drying_kpa_per_h", FASTEST_DRYING_KPA_PER_H),
        decides=values.get("decides"),
        plan_kpa=values.get("plan_kpa"),
        now_kpa=values.get("now_kpa"),
    )


def _metres(centimetres: float | None) -> float | None:
    return None if centimetres is None else centimetres / 100.0


@dataclass(slots=True)
class _Maker:
    parts: Parts
    origins: Origins
    broken: set[Loc]
    problems: list[Problem] = field(default_factory=list)

    def has(self, key: str) -> bool:
        """Whether a key is there; if not, that is a problem, unless it is there and broken."""
        if key not in self.parts.values and not self._is_broken(key):
            description = TensiometerTable.model_fields[key].description
            self._problem(self.parts.loc("name"), expected=f"{key}: {description}", found="nothing")
        return key in self.parts.values

    def column(self) -> Column | None:
        given = {
            key: Given(self.parts.values[key], self.parts.distance(key), self.parts.loc(key))
            for key in KEYS
            if key in self.parts.values
        }
        column = column_of(given)
        if isinstance(column, Column):
            return column
        if not self._is_broken(*KEYS):
            loc = column.loc or self.parts.loc("name")
            self._problem(loc, expected=column.expected, found=column.found, hint=column.hint)
        return None

    def _is_broken(self, *keys: str) -> bool:
        return any((*layer.loc, key) in self.broken for layer in self.parts.layers for key in keys)

    def _problem(self, loc: Loc, *, expected: str, found: str, hint: str = "") -> None:
        about = "" if loc[0] in ("tensiometers", ROWS) else f"it is about tensiometer {self.parts.name}"
        hint = "; ".join(part for part in (hint, about) if part)
        self.problems.append(self.origins.problem(loc, expected=expected, found=found, hint=hint))
