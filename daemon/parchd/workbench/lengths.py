"""Lengths as people write and read them, in centimetres or inches."""

import re
from enum import StrEnum
from fractions import Fraction

from parchd.workbench.errors import SheetError

_MM_PER = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4, "ft": 304.8, "'": 304.8}
_LENGTH = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
    (?:(?:(?P<whole>\d+)[ -]+)?(?P<over>\d+)/(?P<under>\d+)|(?P<number>\d+(?:[.,]\d+)?|[.,]\d+))
    \s*(?P<unit>mm|cm|m|in|ft|"|')?\s*""",
    re.VERBOSE,
)
_SIXTEENTHS = 16


class Ruler(StrEnum):
    """The unit that lengths are thought of in."""

    CM = "cm"
    INCH = "in"

    def text(self, length_mm: float) -> str:
        """Write a length: to the millimetre, or to a sixteenth of an inch.

        >>> Ruler.CM.text(750.0), Ruler.CM.text(3.0), Ruler.INCH.text(762.0), Ruler.INCH.text(3.175)
        ('75 cm', '3 mm', '30 in', '1/8 in')
        """
        if self is Ruler.CM and 0.0 < abs(length_mm) < 10.0:
            return f"{_plain(length_mm)} mm"
        return f"{self.number(length_mm)} {self.value}"

    def number(self, length_mm: float) -> str:
        """Write a length without its unit.

        >>> Ruler.CM.number(1235.0), Ruler.INCH.number(63.5), Ruler.INCH.number(-63.5)
        ('123.5', '2 1/2', '-2 1/2')
        """
        if self is Ruler.CM:
            return _plain(length_mm / 10.0)
        sixteenths = round(abs(length_mm) / 25.4 * _SIXTEENTHS)
        whole, rest = divmod(sixteenths, _SIXTEENTHS)
        parts = [str(whole)] if whole or not rest else []
        parts += [str(Fraction(rest, _SIXTEENTHS))] if rest else []
        return "-" * (length_mm < 0 < sixteenths) + " ".join(parts)

    def parse_mm(self, text: str) -> float:
        """Read a length: a number in this unit, or one with a unit of its own; fractions are understood.

        Raises:
            SheetError: it is no length.

        >>> Ruler.CM.parse_mm("60"), Ruler.INCH.parse_mm("24"), Ruler.INCH.parse_mm("2 1/2"), Ruler.INCH.parse_mm("3m")
        (600.0, 609.6, 63.5, 3000.0)
        """
        match = _LENGTH.fullmatch(text)
        if match is None or not int(match["under"] or 1):
            raise SheetError(f"{text!r} is no length: write 60, 60cm, 24in, 2 1/2in or 10ft")
        if match["under"]:
            number = int(match["whole"] or 0) + int(match["over"]) / int(match["under"])
        else:
            number = float(match["number"].replace(",", "."))
        length_mm = number * _MM_PER[match["unit"] or self.value]
        return round(-length_mm if match["sign"] == "-" else length_mm, 6)


def both_text(length_mm: float) -> str:
    """Write a length in both units, for messages.

    >>> both_text(750.0)
    '75 cm (29 1/2 in)'
    """
    return f"{Ruler.CM.text(length_mm)} ({Ruler.INCH.text(length_mm)})"


def parse_altitude_m(text: str) -> float:
    """Read an altitude: metres, or feet with ``ft`` behind the number.

    Raises:
        SheetError: it is no altitude.

    >>> parse_altitude_m("420"), parse_altitude_m("420 m"), parse_altitude_m("1000ft")
    (420.0, 420.0, 304.8)
    """
    match = _LENGTH.fullmatch(text)
    if match is None or match["number"] is None or match["unit"] not in (None, "m", "ft", "'"):
        raise SheetError(f"{text!r} is no altitude: write metres, 420, or feet, 1400ft")
    metres = float(match["number"].replace(",", ".")) * _MM_PER[match["unit"] or "m"] / 1000.0
    return -metres if match["sign"] == "-" else metres


def altitude_text(altitude_m: float, ruler: Ruler) -> str:
    """
    >>> altitude_text(420.0, Ruler.CM), altitude_text(420.0, Ruler.INCH)
    ('420 m', '420 m (1378 ft)')
    """
    metres = f"{_plain(round(altitude_m))} m"
    return metres if ruler is Ruler.CM else f"{metres} ({altitude_m / 0.3048:.0f} ft)"


def _plain(number: float) -> str:
    """One decimal, if there is one.

    >>> _plain(75.0), _plain(75.25), _plain(-0.01)
    ('75', '75.2', '0')
    """
    text = f"{number:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text
