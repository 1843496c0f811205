"""Numbers as devices print them."""

import math
import re

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_NO_VALUE = frozenset({"", "nan", "+nan", "-nan", "inf", "+inf", "-inf", "ovf", "null", "na"})


def parse_number(text: str) -> float | None:
    """Read a number; ``None`` when the device says that it has none.

    "No value" is an empty field, ``nan``, ``inf``, ``ovf`` (what small C libraries print for a division by zero or an
    overflow), ``null`` or ``na``, in capitals or not, and a number too large for a double.

    >>> [parse_number(text) for text in ("17", " -1.5e1 ", ".5", "nan", "", "1e999")]
    [17.0, -15.0, 0.5, None, None, None]
    >>> parse_number("1_000")
    Traceback (most recent call last):
    ValueError: not a number: 1_000

    Raises:
        ValueError: anything else.
    """
    text = text.strip(" \t\r\n\v\f")
    if _NUMBER.fullmatch(text):
        return finite(float(text))
    if text.lower() in _NO_VALUE:
        return None
    raise ValueError(f"not a number: {text[:40]}")


def finite(value: float) -> float | None:
    """Return the value itself when it is finite, else ``None``.

    >>> finite(1.0), finite(float("inf"))
    (1.0, None)
    """
    return value if math.isfinite(value) else None
