"""How one person is spoken to: language, unit of tension, style of dates, time zone."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from zoneinfo import ZoneInfo

from parchd.clock import to_datetime
from parchd.units import from_kpa
from parchd.words.catalogues import SOURCE, catalogue
from parchd.words.texts import Text, Value, text

UNITS: Mapping[str, int] = MappingProxyType(
    {"kPa": 0, "cbar": 0, "hPa": -1, "mbar": -1, "cmH2O": -1, "bar": 2, "psi": 1}
)
"""Units that tension may be told in, and how many decimals more than in kPa say the same."""

_LONG_H = 72.0


class DateStyle(StrEnum):
    """How times are written."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"
    ISO = "iso"


_TIME = {
    DateStyle.DAY_FIRST: text("EEE dd MMM y, HH:mm"),
    DateStyle.MONTH_FIRST: text("EEE, MMM d, y, h:mm a"),
    DateStyle.ISO: Text("y-MM-dd HH:mm"),
}
_WEEKDAY = text("EEE d")
_MOMENT = {
    DateStyle.DAY_FIRST: text("EEE d MMM, HH:mm"),
    DateStyle.MONTH_FIRST: text("EEE, MMM d, h:mm a"),
    DateStyle.ISO: Text("MM-dd HH:mm"),
}
_DAY = {
    DateStyle.DAY_FIRST: text("EEE d MMM"),
    DateStyle.MONTH_FIRST: text("EEE, MMM d"),
    DateStyle.ISO: Text("MM-dd"),
}


@dataclass(frozen=True, slots=True)
class Voice:
    """How one person is spoken to. Without settings of their own people are told in English and kPa.

    Args:
        language: one of `languages()`; another is spoken to in English.
        units: a key of `UNITS`.
        date_style: how times are written.
        time_zone: IANA name; all times are local ones.
    """

    language: str = SOURCE
    units: str = "kPa"
    date_style: DateStyle = DateStyle.DAY_FIRST
    time_zone: str = "UTC"

    def say(self, what: str | Text, **values: Value) -> str:
        """Say a text in the language, its places filled.

        >>> Voice(units="hPa").say("Pump {name} to {kpa:60}.", name="north-1")
        'Pump north-1 to 600 hPa.'
        """
        if isinstance(what, Text):
            return self.word(what.source).format_map(_Places(self, dict(what.values) | values, values))
        return self.word(what).format_map(_Places(self, values, values))

    def word(self, stored: str) -> str:
        """Say a text that was stored in English and has no places; one that no catalogue has stays as it is."""
        return catalogue(self.language).gettext(stored) if stored else ""

    def say_n(self, one: str, many: str, n: int, **values: Value) -> str:
        """Say a text about a number of things; the place ``{n}`` takes the number.

        >>> Voice().say_n("{n} tensiometer", "{n} tensiometers", 2)
        '2 tensiometers'
        """
        return catalogue(self.language).ngettext(one, many, n).format_map(_Places(self, values | {"n": n}, values))

    def local(self, time_us: int) -> str:
        """A time as its reader writes it, to the minute.

        >>> Voice(time_zone="Europe/Berlin").local(1_780_000_000_000_000)
        'Thu 28 May 2026, 22:26'
        """
        return self._formatted(time_us, _TIME)

    def moment(self, time_us: int) -> str:
        """A time without its year, for lists of what was lately.

        >>> Voice(time_zone="Europe/Berlin").moment(1_780_000_000_000_000)
        'Thu 28 May, 22:26'
        """
        return self._formatted(time_us, _MOMENT)

    def day(self, time_us: int) -> str:
        """The day of a time, without its year.

        >>> Voice(date_style=DateStyle.MONTH_FIRST).day(1_780_000_000_000_000)
        'Thu, May 28'
        """
        return self._formatted(time_us, _DAY)

    def weekday(self, time_us: int) -> str:
        """The day of a time, as short as can be.

        >>> Voice().weekday(1_780_000_000_000_000)
        'Thu 28'
        """
        return self._formatted(time_us, dict.fromkeys(DateStyle, _WEEKDAY))

    def number(self, value: float, decimals: int = 0) -> str:
        """A number with so many decimals, never a zero with a minus sign.

        >>> Voice().number(-0.04, 1), Voice("de").number(1234.56, 1)
        ('0.0', '1234,6')
        """
        return f"{value:z.{decimals}f}".replace(".", self._point)

    def tension(self, tension_kpa: float, decimals: int = 0) -> str:
        """A tension or pressure in the reader's unit; ``decimals`` are those of kPa.

        >>> Voice().tension(62.4), Voice(units="hPa").tension(62.43, 1), Voice(units="psi").tension(62.4)
        ('62 kPa', '624 hPa', '9.1 psi')
        """
        return f"{self.number(self.in_units(tension_kpa), max(0, decimals + UNITS[self.units]))} {self.units}"

    def short(self, value: float) -> str:
        """A number with four digits.

        >>> Voice("de").short(0.123456), Voice().short(3e-41)
        ('0,1235', '3e-41')
        """
        return f"{value:.4g}".replace(".", self._point)

    def in_units(self, tension_kpa: float) -> float:
        """A tension as a number in the reader's unit.

        >>> Voice(units="cbar").in_units(62.4)
        62.4
        """
        return from_kpa(tension_kpa, self.units)

    def duration(self, hours: float) -> str:
        """A length of time.

        >>> [Voice().duration(hours) for hours in (0.4, 0.9999, 5.26, 30, 120, 24 * 61.3)]
        ['24 min', '1 h', '5.3 h', '30 h', '5 days', '61 days']
        """
        if abs(hours) < 59.5 / 60.0:
            return self.say("{n} min", n=self.number(60.0 * hours))
        if abs(hours) < _LONG_H:
            return self.say("{n} h", n=self._short(hours))
        return self.say("{n} days", n=self._short(hours / 24.0))

    def listing(self, names: Iterable[str]) -> str:
        """Names one after the other.

        >>> Voice().listing(["north-20", "north-40", "north-60"])
        'north-20, north-40 and north-60'
        """
        *others, last = names
        return self.say("{names} and {last}", names=", ".join(others), last=last) if others else last

    def _short(self, value: float) -> str:
        """One decimal below ten, and none that is zero."""
        decimals = int(abs(value) < 9.95 and round(value, 1) != round(value))
        return self.number(value, decimals)

    @property
    def _point(self) -> str:
        """What stands between a number and its decimals."""
        if self.language == SOURCE:
            return "."
        from babel.numbers import get_decimal_symbol

        return get_decimal_symbol(self.language)

    def _formatted(self, time_us: int, patterns: Mapping[DateStyle, Text]) -> str:
        from babel.dates import format_datetime

        local = to_datetime(time_us).astimezone(ZoneInfo(self.time_zone)).replace(tzinfo=None)
        said = format_datetime(local, self.say(patterns[self.date_style]), locale=self.language)
        return said.replace("\u202f", " ")


class _Places(Mapping[str, object]):
    """What stands in the places of a text; a text in a place is said when it is needed, with the same values."""

    def __init__(self, voice: Voice, values: Mapping[str, Value], outer: Mapping[str, Value]) -> None:
        self._voice, self._values, self._outer = voice, values, outer

    def __getitem__(self, name: str) -> object:
        if name == "kpa":
            return _Kpa(self._voice)
        value = self._values[name]
        return self._voice.say(value, **self._outer) if isinstance(value, Text) else value

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


class _Kpa:
    """Stands in a text for a tension that the text itself names."""

    def __init__(self, voice: Voice) -> None:
        self._voice = voice

    def __format__(self, kpa: str) -> str:
        return self._voice.tension(float(kpa), len(kpa.partition(".")[2]))
