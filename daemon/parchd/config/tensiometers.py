"""Tensiometers with all that they inherit: own keys, their row, defaults of their zone, defaults of the site."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from parchd.config.columns import KEYS, Column, Given, column_of
from parchd.config.ground import CalibrationTable, TensiometerDefaults, TensiometerTable
from parchd.config.model import Settings
from parchd.config.origins import ROWS, Origins
from parchd.config.rows import Rows
from parchd.config.toml_lines import Loc
from parchd.contract import Problem

REQUIRED = ("zone", "channel", "transducer", "depth_cm")
STATION = "main"
"""Station of tensiometers that name none: one for the zone."""
INTERVAL_S = 600.0
SILENT_INTERVALS = 3.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One table that a tensiometer takes keys from."""

    loc: Loc
    table: TensiometerDefaults


@dataclass(frozen=True, slots=True)
class Tensiometer:
    """A tensiometer as it is configured, with names not looked up yet."""

    name: str
    zone: str
    station: str
    channel: str
    transducer: str
    depth_m: float
    column: Column
    supply_channel: str | None
    temperature_channel: str | None
    interval_s: float
    silent_intervals: float
    decides: bool | None
    plan_kpa: float | None
    now_kpa: float | None
    calibrations: tuple[CalibrationTable, ...]
    places: Mapping[str, Loc]

    def loc(self, key: str) -> Loc:
        """Where a key of it is written; its own table if it is not."""
        return self.places.get(key, self.places["name"])


@dataclass(slots=True)
class Merged:
    """All tensiometers that are whole, and what is wrong with the others."""

    tensiometers: dict[str, Tensiometer] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)


def merge_tensiometers(settings: Settings, rows: Rows, origins: Origins, broken: set[Loc]) -> Merged:
    """Put each tensiometer together; the nearer table wins, key by key.

    Args:
        settings: validated tables.
        rows: the table of tensiometers.
        origins: where keys stand.
        broken: paths that could not be validated: what they leave missing is no further problem.
    """
    merged = Merged()
    for name in dict.fromkeys((*rows.tables, *settings.tensiometers)):
        merger = _Merger(name, settings, origins, broken | rows.broken, tuple(_own_layers(name, settings, rows)))
        tensiometer = merger.merge()
        merged.problems += merger.problems
        if tensiometer is not None:
            merged.tensiometers[name] = tensiometer
    return merged


def _own_layers(name: str, settings: Settings, rows: Rows) -> Iterator[Layer]:
    if name in settings.tensiometers:
        yield Layer(("tensiometers", name), settings.tensiometers[name])
    if name in rows.tables:
        yield Layer((ROWS, name), rows.tables[name])


@dataclass(slots=True)
class _Merger:
    name: str
    settings: Settings
    origins: Origins
    broken: set[Loc]
    layers: tuple[Layer, ...]
    problems: list[Problem] = field(default_factory=list)

    def merge(self) -> Tensiometer | None:
        zone, _ = self._find("zone")
        if zone in self.settings.zones:
            self.layers += (Layer(("zones", zone, "defaults"), self.settings.zones[zone].defaults),)
        self.layers += (Layer(("defaults",), self.settings.defaults),)
        values, places = self._values()
        missing = [key for key in REQUIRED if not self._has(key, values)]
        column = self._column()
        return self._made(values, places, column) if not missing and column is not None else None

    def _made(self, values: dict[str, Any], places: dict[str, Loc], column: Column) -> Tensiometer:
        return Tensiometer(
            name=self.name,
            zone=values["zone"],
            station=values.get("station", STATION),
            channel=values["channel"],
            transducer=values["transducer"],
            depth_m=values["depth_cm"] / 100.0,
            column=column,
            supply_channel=values.get("supply_channel"),
            temperature_channel=values.get("temperature_channel"),
            interval_s=values.get("interval_s", INTERVAL_S),
            silent_intervals=values.get("silent_intervals", SILENT_INTERVALS),
            decides=values.get("decides"),
            plan_kpa=values.get("plan_kpa"),
            now_kpa=values.get("now_kpa"),
            calibrations=values.get("calibration", ()),
            places={"name": self.layers[0].loc, **places},
        )

    def _values(self) -> tuple[dict[str, Any], dict[str, Loc]]:
        values, places = dict[str, Any](), dict[str, Loc]()
        for key in TensiometerTable.model_fields:
            value, layer = self._find(key)
            if layer is not None:
                values[key], places[key] = value, (*layer.loc, key)
        return values, places

    def _find(self, key: str) -> tuple[Any, Layer | None]:
        for layer in self.layers:
            if key in layer.table.model_fields_set:
                return getattr(layer.table, key), layer
        return None, None

    def _column(self) -> Column | None:
        given = {}
        for key in KEYS:
            value, layer = self._find(key)
            if layer is not None:
                given[key] = Given(value, self.layers.index(layer), (*layer.loc, key))
        column = column_of(given)
        if isinstance(column, Column):
            return column
        if not self._is_broken(*KEYS):
            loc = column.loc or self.layers[0].loc
            self._problem(loc, expected=column.expected, found=column.found, hint=column.hint)
        return None

    def _has(self, key: str, values: Mapping[str, Any]) -> bool:
        if key in values:
            return True
        if not self._is_broken(key):
            description = TensiometerTable.model_fields[key].description
            self._problem(self.layers[0].loc, expected=f"{key}: {description}", found="nothing")
        return False

    def _is_broken(self, *keys: str) -> bool:
        return any((*layer.loc, key) in self.broken for layer in self.layers for key in keys)

    def _problem(self, loc: Loc, *, expected: str, found: str, hint: str = "") -> None:
        about = "" if loc[0] in ("tensiometers", ROWS) else f"it is about tensiometer {self.name}"
        hint = "; ".join(part for part in (hint, about) if part)
        self.problems.append(self.origins.problem(loc, expected=expected, found=found, hint=hint))
