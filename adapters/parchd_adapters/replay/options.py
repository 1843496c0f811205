"""Options of ``replay``."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from parchd.contract import Options, Unit
from parchd_adapters._shared.fields import Channel, ZoneName
from parchd_adapters._shared.times import TimeFormat


class Layout(StrEnum):
    LONG = "long"
    """One value in a row."""
    WIDE = "wide"
    """One moment in a row, and a column for each channel."""


class Mark(StrEnum):
    """What parts the whole digits of a number from the rest."""

    POINT = "."
    COMMA = ","


class Column(Options):
    """The name that a channel has in the file, and its unit when it is not the source's."""

    key: Annotated[str, Field(min_length=1)]
    unit: Unit | None = None


def _short_form(entry: object) -> object:
    return {"key": entry} if isinstance(entry, str) else entry


ColumnEntry = Annotated[Column, BeforeValidator(_short_form)]


class ReplayOptions(Options):
    """What stands under ``[sources.NAME]`` with ``kind = "replay"``."""

    path: Path
    layout: Layout = Layout.LONG
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] = ","
    decimal: Mark = Mark.POINT

    time_column: str = "time"
    time_format: TimeFormat = TimeFormat.AUTO
    time_zone: ZoneName | None = None
    daylight_saving: bool = True

    channel_column: str = "channel"
    value_column: str = "value"
    unit_column: str = "unit"
    fields: Annotated[dict[Channel, ColumnEntry], Field(default_factory=dict)]
    unit: Unit = Unit.V

    speed: Annotated[float, Field(ge=0.0, le=1e6)] = 1.0
    shift_to_now: bool = False

    @model_validator(mode="after")
    def _check(self) -> "ReplayOptions":
        if self.layout is Layout.WIDE and not self.fields:
            raise ValueError("fields: a table from channel to column, because layout is wide")
        keys = [column.key for column in self.fields.values()]
        if twice := {key for key in keys if keys.count(key) > 1}:
            raise ValueError(f"fields: {min(twice)!r} once only")
        if self.delimiter == self.decimal.value:
            raise ValueError("delimiter: another sign than decimal")
        if self.shift_to_now and not 0 < self.speed <= 1:
            raise ValueError("speed: 1 or slower with shift_to_now, or the samples would lie in the future")
        return self
