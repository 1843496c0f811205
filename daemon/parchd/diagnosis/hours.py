"""Readings summed up by the hour: four weeks of a tensiometer in some thirty kilobytes."""

import math
from array import array
from collections.abc import Iterable
from typing import NamedTuple

HOUR_US = 3_600_000_000
KEPT_HOURS = 28 * 24
SPARE_HOURS = 48
NAN = math.nan


class Hour(NamedTuple):
    """One hour of one tensiometer; NaN: not known. Hours are counted since 1970 UTC.

    Args:
        mean_kpa, low_kpa, high_kpa, last_kpa: of the tensions that may be measurements.
        rough_kpa: mean size of the second difference of consecutive tensions: noise, whatever the soil does.
        still_s: how long the sample has been one and the same number at the end of the hour.
        good: samples that gave a tension.
        bad: samples that gave none, or one that cannot be.
        cause: number of the most frequent `Cause` among the bad ones, 0 without any.
        temperature_c: mean of the tensiometer's temperature channel.
        lag_s: least time from measurement to arrival.
        raw_low, raw_high: of the samples as they came, good or bad; single precision keeps codes up to 24 bits and
            numbers that were sent in four bytes exactly.
    """

    mean_kpa: float = NAN
    low_kpa: float = NAN
    high_kpa: float = NAN
    last_kpa: float = NAN
    rough_kpa: float = NAN
    still_s: float = NAN
    good: float = 0.0
    bad: float = 0.0
    cause: float = 0.0
    temperature_c: float = NAN
    lag_s: float = NAN
    raw_low: float = NAN
    raw_high: float = NAN


EMPTY_HOUR = Hour()


def hour_of(time_us: int) -> int:
    """The hour a time falls into.

    >>> hour_of(7_200_000_000)
    2
    """
    return time_us // HOUR_US


def known(values: Iterable[float]) -> list[float]:
    """The numbers among them.

    >>> known([1.0, NAN, 2.0])
    [1.0, 2.0]
    """
    return [value for value in values if value == value]


WIDTH = len(Hour._fields)
PLACE = {name: place for place, name in enumerate(Hour._fields)}
LATELY_H = 50
"""Means of so many hours are looked at in every hour."""
SPARE_LATELY_H = 8


class Hours:
    """The last hours of one tensiometer, without holes: an hour without readings is an empty one.

    They lie one after the other in one array, so that adding one is one step; the means of the last two days are also
    kept as plain numbers.
    """

    __slots__ = ("_lately", "_rows", "_size", "end")

    def __init__(self) -> None:
        self.end = 0
        self._rows = array("f")
        self._size = 0
        self._lately = [NAN] * LATELY_H

    def __len__(self) -> int:
        return self._size

    @property
    def begin(self) -> int:
        """The oldest hour that is kept."""
        return self.end - self._size

    def push(self, number: int, hour: Hour) -> None:
        """Add an hour later than all before; hours in between are empty ones."""
        if self._size and number > self.end + KEPT_HOURS:
            self.clear()
        if self._size:
            for _ in range(self.end, number):
                self._append(EMPTY_HOUR)
        self._append(hour)
        self.end = number + 1

    def clear(self) -> None:
        """Forget everything."""
        del self._rows[:]
        self._size = 0
        self._lately = [NAN] * LATELY_H

    def at(self, name: str, number: int) -> float:
        """One number of one hour; NaN: none."""
        position = number - self.end + self._size
        return self._rows[position * WIDTH + PLACE[name]] if 0 <= position < self._size else NAN

    def newest(self) -> Hour:
        """The hour that was added last; an empty one: there is none."""
        return Hour(*self._rows[-WIDTH:]) if self._size else EMPTY_HOUR

    def lately(self, hours: int) -> list[float]:
        """Means of the last hours, `LATELY_H` of them at most: the same as the end of the column."""
        return self._lately[len(self._lately) - hours :]

    def column(self, name: str, begin: int, end: int) -> list[float]:
        """One number of the hours ``begin <= hour < end``; NaN where there is none, also before the first hour."""
        first = self.end - self._size
        low, high = max(begin, first), min(end, self.end)
        if low >= high:
            return [NAN] * max(0, end - begin)
        place = PLACE[name]
        part = self._rows[(low - first) * WIDTH + place : (high - first) * WIDTH : WIDTH].tolist()
        if low == begin and high == end:
            return part
        return [NAN] * (low - begin) + part + [NAN] * (end - high)

    def hour(self, number: int) -> Hour:
        return Hour(*(self.at(name, number) for name in Hour._fields))

    def _append(self, hour: Hour) -> None:
        rows, lately = self._rows, self._lately
        rows.extend(hour)
        lately.append(rows[-WIDTH])
        if len(lately) >= LATELY_H + SPARE_LATELY_H:
            del lately[:-LATELY_H]
        self._size += 1
        if self._size > KEPT_HOURS + SPARE_HOURS:
            del rows[: SPARE_HOURS * WIDTH]
            self._size -= SPARE_HOURS
