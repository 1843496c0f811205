"""Options of ``serial-lines``."""

from enum import StrEnum
from typing import Annotated, Literal
from urllib.parse import urlsplit

from pydantic import AfterValidator, Field, model_validator

from parchd.contract import Options, Unit
from parchd_adapters._shared.fields import ZoneName
from parchd_adapters._shared.pointer import parse_key
from parchd_adapters._shared.times import TimeFormat
from parchd_adapters.serial_lines.fields import Fields

SCHEMES = ("socket", "rfc2217")


class LineFormat(StrEnum):
    DELIMITED = "delimited"
    KEY_VALUE = "key-value"
    JSON = "json"


class Parity(StrEnum):
    NONE = "none"
    EVEN = "even"
    ODD = "odd"


def check_port(port: str) -> str:
    """Refuse what is neither a device path nor a URL we can open.

    >>> check_port("socket://10.0.0.7:4001")
    'socket://10.0.0.7:4001'

    Raises:
        ValueError: with the forms that are right.
    """
    if port.startswith("/"):
        return port
    url = urlsplit(port)
    if url.scheme not in SCHEMES:
        raise ValueError("a path like /dev/serial/by-id/..., or socket://HOST:PORT, or rfc2217://HOST:PORT")
    if not url.hostname or url.port is None:  # the property itself refuses a port that is no number
        raise ValueError(f"{url.scheme}://HOST:PORT")
    if url.scheme == "socket" and (url.query or url.path.strip("/")):
        raise ValueError("socket://HOST:PORT and nothing after it")
    return port


class SerialLinesOptions(Options):
    """What stands under ``[sources.NAME]`` with ``kind = "serial-lines"``."""

    port: Annotated[str, AfterValidator(check_port)]
    baud: Annotated[int, Field(ge=50, le=4_000_000)] = 115_200
    parity: Parity = Parity.NONE
    data_bits: Literal[7, 8] = 8
    stop_bits: Literal[1, 2] = 1

    format: LineFormat = LineFormat.DELIMITED
    delimiter: Annotated[str, Field(min_length=1, max_length=8)] | None = None
    fields: Fields
    unit: Unit = Unit.COUNTS

    time_field: Annotated[str, Field(min_length=1)] | None = None
    time_format: TimeFormat = TimeFormat.AUTO
    time_zone: ZoneName | None = None
    daylight_saving: bool = True

    comment: str = "#"
    max_line_bytes: Annotated[int, Field(ge=16, le=65_536)] = 512
    partial_line_s: Annotated[float, Field(ge=0.5, le=60.0)] = 2.0

    @model_validator(mode="after")
    def _check_fields_fit_the_format(self) -> "SerialLinesOptions":
        named = bool(self.fields[0].key)
        if named == (self.format is LineFormat.DELIMITED):
            wanted = "a list of channels" if named else "a table from channel to key"
            raise ValueError(f"fields: {wanted}, because format is {self.format.value}")
        if self.format is LineFormat.JSON:
            for key in [field.key for field in self.fields] + [self.time_field or ""]:
                parse_key(key)
            if self.delimiter is not None:
                raise ValueError("delimiter: none, because format is json")
        return self

    @model_validator(mode="after")
    def _check_time_field(self) -> "SerialLinesOptions":
        if self.time_field is None or self.format is not LineFormat.DELIMITED:
            return self
        if self.time_field not in [field.channel for field in self.fields]:
            raise ValueError(f"time_field: one of the names in fields, not {self.time_field!r}")
        if len([field for field in self.fields if field.is_channel]) < 2:
            raise ValueError("fields: at least one channel beside the time")
        return self
