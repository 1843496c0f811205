"""What all kinds of transducers have in common."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Protocol

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.units import Quantity

if TYPE_CHECKING:
    from numpy import float64, uint8
    from numpy.typing import NDArray


class Transducer(Protocol):
    """One kind of transducer with its data sheet."""

    @property
    def unit(self) -> Unit:
        """Unit of the signal, after the converter: ``V``, ``mA``, ``kPa``, or ``counts`` of a digital one."""
        ...

    @property
    def needs_supply(self) -> bool:
        """Whether the signal means something only together with the supply voltage."""
        ...

    @property
    def nominal_supply_v(self) -> float:
        """Supply or excitation for those who do not measure it; 0 where none is needed."""
        ...

    @property
    def reference(self) -> Reference:
        """What its pressure is measured against."""
        ...

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """Give the pressure that the data sheet makes of the signal, against the transducer's own `reference`.

        The line of the data sheet goes on beyond its ends; ask `fault` whether there is a value at all.

        Args:
            signal: finite, in `unit`.
            supply_v: supply voltage, above zero; looked at only when `needs_supply`.
        """
        ...

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """Give `indicated_kpa`, under the name it had when every transducer was a gauge."""
        ...

    def fault(self, signal: float, supply_v: float) -> Cause:
        """Tell what is wrong electrically: ``NONE`` when the signal is a value."""
        ...

    def faults(self, signal: NDArray[float64], supply_v: NDArray[float64] | float) -> NDArray[uint8]:
        """Give the number of the `Cause` that `fault` gives, for each signal of a column."""
        ...


@dataclass(frozen=True, slots=True)
class Bands:
    """Stretches of a signal, each with its cause.

    Args:
        edges: rising; a signal on an edge belongs to the stretch above it.
        causes: one more than edges.
    """

    edges: tuple[float, ...]
    causes: tuple[Cause, ...]

    def cause(self, signal: float) -> Cause:
        """
        >>> Bands((0.5,), (Cause.OPEN_CIRCUIT, Cause.NONE)).cause(0.2).word
        'open circuit'
        """
        return self.causes[bisect_right(self.edges, signal)]

    def numbers(self, signal: NDArray[float64]) -> NDArray[uint8]:
        """Give the number of each signal's cause."""
        import numpy as np

        stretch = np.zeros(signal.shape, dtype=np.uint8)
        for edge in self.edges:
            stretch += ~(signal < edge)
        return np.array(self.causes, dtype=np.uint8)[stretch]


def bands(below: float | None, above: float | None, low: Cause, high: Cause) -> Bands:
    """Make three stretches; signals on either limit are good. ``None``: there is no limit on that side."""
    edges = (() if below is None else (below,)) + (() if above is None else (just_above(above),))
    causes = (() if below is None else (low,)) + (Cause.NONE,) + (() if above is None else (high,))
    return Bands(edges, causes)


def just_above(edge: float) -> float:
    """Give the next number: as an edge, it leaves the number itself in the stretch below."""
    return math.nextafter(edge, math.inf)


class Kind(ABC):
    """What every kind can do once it knows its line and its bands."""

    __slots__ = ()

    bands: Bands

    @abstractmethod
    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity: ...

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        return self.indicated_kpa(signal, supply_v)


class Plain(Kind):
    """A transducer whose signal alone says everything."""

    __slots__ = ()

    needs_supply: ClassVar[bool] = False

    @property
    def nominal_supply_v(self) -> float:
        return 0.0

    def fault(self, signal: float, supply_v: float) -> Cause:
        del supply_v
        return self.bands.cause(signal)

    def faults(self, signal: NDArray[float64], supply_v: NDArray[float64] | float) -> NDArray[uint8]:
        del supply_v
        return self.bands.numbers(signal)


class Supplied(Kind):
    """A transducer whose signal is a share of its supply; its bands are shares too."""

    __slots__ = ()

    needs_supply: ClassVar[bool] = True
    supply_tolerance: float

    @property
    @abstractmethod
    def nominal_supply_v(self) -> float: ...

    def fault(self, signal: float, supply_v: float) -> Cause:
        if not abs(supply_v - self.nominal_supply_v) <= self._room_v:
            return Cause.NO_SUPPLY
        return self.bands.cause(signal / supply_v)

    def faults(self, signal: NDArray[float64], supply_v: NDArray[float64] | float) -> NDArray[uint8]:
        import numpy as np

        good = np.abs(supply_v - self.nominal_supply_v) <= self._room_v
        share = signal / np.where(good, supply_v, self.nominal_supply_v)
        return np.where(good, self.bands.numbers(share), np.uint8(Cause.NO_SUPPLY))

    @property
    def _room_v(self) -> float:
        return self.supply_tolerance * self.nominal_supply_v


def line(x: Quantity, x1: float, y1: float, x2: float, y2: float) -> Quantity:
    """Give y at x on the line through two points."""
    return y1 + (x - x1) * ((y2 - y1) / (x2 - x1))


def check_pressures(kpa1: float, kpa2: float) -> None:
    if not 0.0 < abs(kpa2 - kpa1) < math.inf:
        raise ValueError(f"two different pressures make a line, not {kpa1:g} kPa and {kpa2:g} kPa")


def check_supply(supply_v: float, tolerance: float, name: str = "supply") -> None:
    if not 0.0 < supply_v < math.inf:
        raise ValueError(f"the {name} must be above 0 V, not {supply_v:g} V")
    if not 0.0 < tolerance < 1.0:
        raise ValueError(f"the {name}'s tolerance must be between 0 and 1, not {tolerance:g}")
