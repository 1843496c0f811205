"""Lines taken apart into named values, one reader for each format."""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from parchd_adapters._shared.pointer import look_up, parse_key
from parchd_adapters.serial_lines.fields import REST, SKIP
from parchd_adapters.serial_lines.options import LineFormat, SerialLinesOptions

TOO_FEW = "line has too few fields"
TOO_MANY = "line has too many fields"
NOT_KEY_VALUE = "line is not key=value"
KEY_TWICE = "line has a key twice"
NOT_JSON = "line is not a JSON object"
NOTHING_KNOWN = "line has no field that is mapped"


class BadLine(ValueError):
    """The whole line is of no use; the text is the reason."""


@dataclass(frozen=True, slots=True)
class Record:
    """One line.

    Args:
        values: what stands for each channel, not yet read as a number.
        time: what stands in the time field; ``None``: there is none.
        unknown: a key that is not mapped; empty: none.
    """

    values: Mapping[str, Any]
    time: Any = None
    unknown: str = ""


Reader = Callable[[str], Record]


def reader_for(options: SerialLinesOptions) -> Reader:
    """Make the reader for the options' format."""
    return {
        LineFormat.DELIMITED: _delimited,
        LineFormat.KEY_VALUE: _key_value,
        LineFormat.JSON: _json,
    }[options.format](options)


def _delimited(options: SerialLinesOptions) -> Reader:
    names = [field.channel for field in options.fields]
    open_ended = names[-1] == REST
    names = names[:-1] if open_ended else names
    delimiter = "," if options.delimiter is None else options.delimiter
    split_at = None if delimiter == " " else delimiter

    def read(text: str) -> Record:
        parts = text.split(split_at)
        if len(parts) < len(names):
            raise BadLine(TOO_FEW)
        if "".join(parts[len(names) :]).strip() and not open_ended:
            raise BadLine(TOO_MANY)
        values = {name: part for name, part in zip(names, parts, strict=False) if name != SKIP}
        return Record(values, values.pop(options.time_field, None) if options.time_field else None)

    return read


def _key_value(options: SerialLinesOptions) -> Reader:
    channels = {field.key: field.channel for field in options.fields}
    cut = re.compile(r"[,;\s]+" if options.delimiter is None else _exactly(options.delimiter))

    def read(text: str) -> Record:
        pairs = _pairs(part for part in cut.split(re.sub(r"\s*=\s*", "=", text.strip())) if part)
        time = pairs.pop(options.time_field, None) if options.time_field else None
        values = {channel: pairs.pop(key) for key, channel in channels.items() if key in pairs}
        if not values:
            raise BadLine(NOTHING_KNOWN)
        return Record(values, time, next(iter(pairs), ""))

    return read


def _exactly(delimiter: str) -> str:
    return r"\s+" if delimiter == " " else rf"\s*{re.escape(delimiter)}\s*"


def _pairs(parts: Any) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for part in parts:
        key, equals, value = part.partition("=")
        if not key or not equals:
            raise BadLine(NOT_KEY_VALUE)
        if key in pairs:
            raise BadLine(KEY_TWICE)
        pairs[key] = value
    return pairs


def _json(options: SerialLinesOptions) -> Reader:
    channels = {field.channel: parse_key(field.key) for field in options.fields}
    time = parse_key(options.time_field) if options.time_field else None
    known = {tokens[0] for tokens in (*channels.values(), time) if tokens}

    def read(text: str) -> Record:
        document = _document(text)
        found = {channel: _find(document, tokens) for channel, tokens in channels.items()}
        values = {channel: value for channel, value in found.items() if value is not _ABSENT}
        if not values:
            raise BadLine(NOTHING_KNOWN)
        when = None if time is None else _find(document, time)
        unknown = next((key for key in document if key not in known), "")
        return Record(values, None if when is _ABSENT else when, unknown)

    return read


_ABSENT = object()


def _find(document: Any, tokens: tuple[str, ...]) -> Any:
    try:
        return look_up(document, tokens)
    except LookupError:
        return _ABSENT


def _document(text: str) -> dict[str, Any]:
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        raise BadLine(NOT_JSON) from None
    if not isinstance(document, dict):
        raise BadLine(NOT_JSON)
    return document
