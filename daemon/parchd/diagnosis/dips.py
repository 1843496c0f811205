"""The last samples that stood out, in a few bytes each."""

from array import array
from collections.abc import Iterable, Iterator, Sequence
from typing import Self

from parchd.diagnosis.opening import Dip

KEPT_DIPS = 96


class Dips:
    """The last dips of one tensiometer, the newest last.

    Times lie as numbers that hold microseconds exactly for two centuries: as named tuples they would take most of what
    there is beside the hours.

    >>> dips = Dips([Dip(5, 1.5)])
    >>> dips.add([Dip(7, 0.0)])
    >>> dips.newest_us, list(dips)
    (7, [Dip(time_us=5, kpa=1.5), Dip(time_us=7, kpa=0.0)])
    """

    __slots__ = ("_kpa", "_times_us")

    def __init__(self, dips: Iterable[Dip] = ()) -> None:
        self._times_us, self._kpa = array("q"), array("d")
        self.add(dips)

    def __len__(self) -> int:
        return len(self._kpa)

    def __iter__(self) -> Iterator[Dip]:
        return map(Dip, self._times_us, self._kpa)

    def __repr__(self) -> str:
        return repr(list(self))

    @property
    def newest_us(self) -> int:
        """Time of the newest; 0: there is none."""
        return self._times_us[-1] if self._times_us else 0

    def since(self, time_us: int) -> list[tuple[int, float]]:
        """Times and sizes of those that came then or later."""
        return [pair for pair in zip(self._times_us, self._kpa, strict=True) if pair[0] >= time_us]

    def add(self, dips: Iterable[tuple[int, float]]) -> None:
        """Take newer ones in; the oldest are forgotten."""
        for time_us, kpa in dips:
            self._times_us.append(time_us)
            self._kpa.append(kpa)
        del self._times_us[:-KEPT_DIPS], self._kpa[:-KEPT_DIPS]

    def forget_before(self, time_us: int) -> None:
        """Keep only what came then or later."""
        kept = self.since(time_us)
        del self._times_us[:], self._kpa[:]
        self.add(kept)

    def plain(self) -> list[list[float]]:
        """Give them as JSON keeps them."""
        return [[*dip] for dip in self]

    @classmethod
    def from_plain(cls, rows: Sequence[Sequence[float]]) -> Self:
        """Read what `plain` gave."""
        return cls(Dip(int(time_us), float(kpa)) for time_us, kpa in rows)
