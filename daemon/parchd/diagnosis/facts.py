"""Evidence in words: a label, and a value with its unit and as many digits as mean something."""

import math
from collections.abc import Callable

from parchd.diagnosis.findings import Fact
from parchd.words import Text, Voice, text

_DEGREE = {"degC": "\N{DEGREE SIGN}C"}
_RATES = {"kPa": Text("{unit}"), "kPa/h": text("{unit}/h"), "kPa/day": text("{unit}/day")}


def fact_words(fact: Fact, local: Callable[[int], str], voice: Voice | None = None) -> tuple[str, str]:
    """Write a piece of evidence as label and value.

    Args:
        local: writes a time (microseconds UTC) as people of the site read it.
        voice: ``None``: English and kPa.

    >>> fact_words(Fact("fell by", 41.237, "kPa"), str)
    ('Fell by', '41.2 kPa')
    >>> fact_words(Fact("low since", 1_780_000_000_000_000, "time"), lambda us: "Thu 28 May 2026, 22:26")
    ('Low since', 'Thu 28 May 2026, 22:26')
    """
    voice = voice or Voice()
    label = voice.word(fact.what)
    return label[:1].upper() + label[1:], _value(fact.value, fact.unit, local, voice)


def _value(value: float | int | str, unit: str, local: Callable[[int], str], voice: Voice) -> str:
    if isinstance(value, str):
        return f"{voice.word(value)} {unit}".rstrip()
    if not math.isfinite(value):
        return voice.say("unknown")
    if unit == "time":
        return local(round(value))
    if unit == "h":
        return voice.duration(value)
    if unit == "days" and abs(value) < 1e6:
        return voice.duration(24.0 * value)
    if unit == "%":
        return f"{voice.number(value)} %"
    if not unit:
        return f"{value}" if isinstance(value, int) else voice.short(value)
    return _with_unit(value, unit, voice)


def _with_unit(value: float, unit: str, voice: Voice) -> str:
    decimals = 2 if "/" in unit else 0 if unit == "cm" else 1
    if unit in _RATES:
        value, unit = voice.in_units(value), voice.say(_RATES[unit], unit=voice.units)
    return f"{_digits(value, decimals, voice)} {_DEGREE.get(unit, unit)}"


def digits(value: float, decimals: int) -> str:
    """Write a number with at most so many decimals, none where it has three digits already.

    >>> digits(4.04, 1), digits(41.237, 2), digits(-0.01, 1), digits(812.3, 1), digits(3.4e20, 1)
    ('4.0', '41.2', '0.0', '812', '3.4e+20')
    """
    return _digits(value, decimals, Voice())


def _digits(value: float, decimals: int, voice: Voice) -> str:
    size = abs(value)
    if size >= 1e6:
        return voice.short(value)
    return voice.number(value, 0 if size >= 99.95 else min(decimals, 1) if size >= 9.995 else decimals)


def duration(hours: float) -> str:
    """Write a length of time in English.

    >>> duration(0.4), duration(0.9999), duration(5.26), duration(30), duration(120), duration(24 * 61.3)
    ('24 min', '1 h', '5.3 h', '30 h', '5 days', '61 days')
    """
    return Voice().duration(hours)
