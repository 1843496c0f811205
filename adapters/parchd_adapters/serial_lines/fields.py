"""The map from a line's fields to channels, as the option ``fields`` writes it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator

from parchd.contract import Unit
from parchd_adapters._shared.fields import is_channel

SKIP = "-"
REST = "..."


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a line.

    Args:
        channel: where it goes; ``-``: nowhere; ``...``: it stands for any further fields.
        key: its name in the line; empty: its place in the list tells which it is.
        unit: ``None``: the source's unit.
    """

    channel: str
    key: str = ""
    unit: Unit | None = None

    @property
    def is_channel(self) -> bool:
        return self.channel not in (SKIP, REST)


def read_fields(found: Any) -> tuple[Field, ...]:
    """Read a list (delimited lines) or a table (named fields).

    >>> [field.channel for field in read_fields(["a0:counts", "", "supply:V"])]
    ['a0', '-', 'supply']
    >>> read_fields({"a0": "A0"})
    (Field(channel='a0', key='A0', unit=None),)

    Raises:
        ValueError: it is neither, or an entry is wrong.
    """
    fields = tuple(_entries(found))
    _check(fields)
    return fields


Fields = Annotated[tuple[Field, ...], BeforeValidator(read_fields)]


def _entries(found: Any) -> Iterator[Field]:
    if isinstance(found, Mapping):
        yield from (_from_table(str(channel), entry) for channel, entry in found.items())
    elif isinstance(found, list | tuple):
        yield from (entry if isinstance(entry, Field) else _from_text(entry) for entry in found)
    else:
        raise ValueError("a list of channels, or a table from channel to key")  # noqa: TRY004 (pydantic wants it)


def _from_text(entry: Any) -> Field:
    if not isinstance(entry, str):
        raise ValueError(f"text like 'a0' or 'a0:V', not {entry!r}")  # noqa: TRY004 (pydantic wants it)
    channel, colon, unit = (part.strip() for part in entry.partition(":"))
    return Field(channel or SKIP, unit=_unit(unit) if colon else None)


def _from_table(channel: str, entry: Any) -> Field:
    parts = {"key": entry} if isinstance(entry, str) else entry
    if not isinstance(parts, Mapping) or not isinstance(key := parts.get("key"), str) or not key:
        raise ValueError(f"{channel}: a key, or a table like {{ key = 'A0', unit = 'V' }}")
    if unknown := set(parts) - {"key", "unit"}:
        raise ValueError(f"{channel}: key and unit and nothing else, not {min(unknown)!r}")
    return Field(channel, key, _unit(parts["unit"]) if "unit" in parts else None)


def _unit(text: Any) -> Unit:
    try:
        return Unit(text)
    except ValueError:
        raise ValueError(f"a unit among {', '.join(Unit)}, not {text!r}") from None


def _check(fields: tuple[Field, ...]) -> None:
    channels = [field.channel for field in fields if field.is_channel]
    if not channels:
        raise ValueError("at least one channel")
    if twice := {channel for channel in channels if channels.count(channel) > 1}:
        raise ValueError(f"each channel once, not {min(twice)!r} twice")
    if bad := [channel for channel in channels if not is_channel(channel)]:
        raise ValueError(f"channels of 1 to 64 characters a-z A-Z 0-9 . _ - , not {bad[0]!r}")
    if REST in [field.channel for field in fields[:-1]]:
        raise ValueError("'...' only at the end of the list")
