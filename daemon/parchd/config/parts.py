"""What a tensiometer inherits, key by key, whether or not it is whole."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from parchd.config.ground import TensiometerDefaults, TensiometerTable
from parchd.config.model import Settings
from parchd.config.origins import ROWS
from parchd.config.rows import Rows
from parchd.config.toml_lines import Loc


@dataclass(frozen=True, slots=True)
class Layer:
    """One table that a tensiometer takes keys from."""

    loc: Loc
    table: TensiometerDefaults

    def has(self, key: str) -> bool:
        return key in self.table.model_fields_set and getattr(self.table, key) is not None


@dataclass(frozen=True, slots=True)
class Parts:
    """The keys of one tensiometer.

    Args:
        name: of the tensiometer.
        layers: the tables that it takes keys from, the nearest first.
        values: the keys that are written anywhere, each from the nearest table that has it.
        places: where each of them is written.
    """

    name: str
    layers: tuple[Layer, ...]
    values: Mapping[str, Any]
    places: Mapping[str, Loc]

    def loc(self, key: str) -> Loc:
        """Where a key of it is written; its own table if it is not."""
        return self.places.get(key, self.layers[0].loc)

    def distance(self, key: str) -> int:
        """How far away a key is written, in tables."""
        return next(number for number, layer in enumerate(self.layers) if layer.has(key))


def gather(settings: Settings, rows: Rows) -> Iterator[Parts]:
    """Gather the keys of each tensiometer: its own, its row's, defaults of its zone, defaults of the site."""
    for name in dict.fromkeys((*rows.tables, *settings.tensiometers)):
        layers = tuple(_layers(name, settings, rows))
        values, places = dict[str, Any](), dict[str, Loc]()
        for key in TensiometerTable.model_fields:
            layer = next((layer for layer in layers if layer.has(key)), None)
            if layer is not None:
                values[key], places[key] = getattr(layer.table, key), (*layer.loc, key)
        yield Parts(name, layers, values, places)


def _layers(name: str, settings: Settings, rows: Rows) -> Iterator[Layer]:
    own = settings.tensiometers.get(name)
    row = rows.tables.get(name)
    zone = next((table.zone for table in (own, row) if table is not None and table.zone is not None), None)
    if own is not None:
        yield Layer(("tensiometers", name), own)
    if row is not None:
        yield Layer((ROWS, name), row)
    if zone in settings.zones:
        yield Layer(("zones", str(zone), "defaults"), settings.zones[str(zone)].defaults)
    yield Layer(("defaults",), settings.defaults)
