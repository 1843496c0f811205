"""Evidence in words: a label, and a value with its unit and as many digits as mean something."""

import math
from collections.abc import Callable

from parchd.diagnosis.findings import Fact

_DEGREE = {"degC": "\N{DEGREE SIGN}C"}
_LONG_H = 72.0


def fact_words(fact: Fact, local: Callable[[int], str]) -> tuple[str, str]:
    """Write a piece of evidence as label and value.

    Args:
        local: writes a time (microseconds UTC) as people of the site read it.

    >>> fact_words(Fact("fell by", 41.237, "kPa"), str)
    ('Fell by', '41.2 kPa')
    >>> fact_words(Fact("low since", 1_780_000_000_000_000, "time"), lambda us: "Thu 28 May 2026, 22:26")
    ('Low since', 'Thu 28 May 2026, 22:26')
    """
    return fact.what[:1].upper() + fact.what[1:], _value(fact.value, fact.unit, local)


def _value(value: float | int | str, unit: str, local: Callable[[int], str]) -> str:
    if isinstance(value, str):
        return f"{value} {unit}".rstrip()
    if not math.isfinite(value):
        return "unknown"
    if unit == "time":
        return local(round(value))
    if unit == "h":
        return duration(value)
    if unit == "days" and abs(value) < 1e6:
        return duration(24.0 * value)
    if unit == "%":
        return f"{value:z.0f} %"
    if not unit:
        return f"{value}" if isinstance(value, int) else f"{value:.4g}"
    decimals = 2 if "/" in unit else 0 if unit == "cm" else 1
    return f"{digits(value, decimals)} {_DEGREE.get(unit, unit)}"


def digits(value: float, decimals: int) -> str:
    """Write a number with at most so many decimals, none where it has three digits already.

    >>> digits(4.04, 1), digits(41.237, 2), digits(-0.01, 1), digits(812.3, 1), digits(3.4e20, 1)
    ('4.0', '41.2', '0.0', '812', '3.4e+20')
    """
    size = abs(value)
    if size >= 1e6:
        return f"{value:.3g}"
    return f"{value:z.{0 if size >= 99.95 else min(decimals, 1) if size >= 9.995 else decimals}f}"


def duration(hours: float) -> str:
    """Write a length of time.

    >>> duration(0.4), duration(0.9999), duration(5.26), duration(30), duration(120), duration(24 * 61.3)
    ('24 min', '1 h', '5.3 h', '30 h', '5 days', '61 days')
    """
    size = abs(hours)
    if size < 59.5 / 60.0:
        return f"{60.0 * hours:z.0f} min"
    if size < _LONG_H:
        return f"{_short(hours)} h"
    return f"{_short(hours / 24.0)} days"


def _short(value: float) -> str:
    """One decimal below ten, and no ``.0``."""
    return f"{value:.1f}".removesuffix(".0") if abs(value) < 9.95 else f"{value:.0f}"
