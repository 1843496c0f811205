"""Numbers as devices write them, strictly."""

import math
import re

from parchd.contract import JsonValue

_NUMBER = re.compile(rb"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_LONGEST_BYTES = 64


def parse_number(text: bytes | bytearray) -> float:
    """Read a decimal number; blanks around it are allowed.

    >>> parse_number(b" 2.501\\r\\n")
    2.501

    Raises:
        ValueError: it is none, is not finite, or has more than 64 characters.
    """
    stripped = text.strip()
    if len(stripped) > _LONGEST_BYTES or not _NUMBER.fullmatch(stripped):
        raise ValueError("no number")
    return _finite(float(stripped))


def as_number(value: JsonValue) -> float:
    """Take a number from a JSON document; a text that is one counts.

    >>> as_number(3), as_number("2.5")
    (3.0, 2.5)

    Raises:
        ValueError: it is no number or not finite.
    """
    if isinstance(value, float):
        return _finite(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return _as_float(value)
    if isinstance(value, str):
        return parse_number(value.encode(errors="replace"))
    raise ValueError("no number")


def _as_float(value: int) -> float:
    try:
        return float(value)
    except OverflowError as error:
        raise ValueError("not finite") from error


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("not finite")
    return value
