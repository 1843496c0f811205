"""Transducers: what their signal says of the pressure at them, and when it says that they are broken."""

import math
from dataclasses import dataclass
from typing import ClassVar, Protocol

from parchd.contract import Cause, Unit
from parchd.units import Quantity


class Transducer(Protocol):
    """One kind of transducer with its data sheet."""

    @property
    def unit(self) -> Unit:
        """Unit of the signal, after the converter: ``V``, ``mA`` or ``kPa``."""
        ...

    @property
    def needs_supply(self) -> bool:
        """Whether the signal means something only together with the supply voltage."""
        ...

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """Give the indicated pressure relative to the air around the transducer, negative for vacuum.

        The line of the data sheet goes on beyond its ends; ask `fault` whether there is a value at all.

        Args:
            signal: finite, in `unit`.
            supply_v: supply voltage, above zero; looked at only when `needs_supply`.
        """
        ...

    def fault(self, signal: float, supply_v: float) -> Cause:
        """Tell what is wrong electrically: ``NONE`` when the signal is a value."""
        ...


@dataclass(frozen=True, slots=True)
class Ratiometric:
    """A voltage that is a fraction of the supply; either polarity.

    Args:
        low_kpa, high_kpa: gauge pressure of the tensiometer at the low and the high fraction. If the voltage rises with
            vacuum: 0 and -100 (so too a differential one of 0 to 100 kPa whose low-pressure port is on the
            tensiometer); if it falls with vacuum: -100 and 0.
        low_fraction, high_fraction: of the supply, at those pressures.
        supply_v: nominal supply, for those who do not measure it. The converter's error comes 1:1 into the result then.
        open_below, open_above: fractions at which it is no value any more. Below: broken wire or short to ground
            (``OPEN_CIRCUIT``). Above: short to the supply, or a broken ground (``SHORT_CIRCUIT``). Parts differ.
        supply_tolerance: relative; a measured supply further off the nominal one is a fault (``NO_SUPPLY``).

    Raises:
        ValueError: pressures equal, or fractions not in order between 0 and 1, or the supply not above 0.
    """

    unit: ClassVar[Unit] = Unit.V
    needs_supply: ClassVar[bool] = True

    low_kpa: float
    high_kpa: float
    low_fraction: float = 0.1
    high_fraction: float = 0.9
    supply_v: float = 5.0
    open_below: float = 0.05
    open_above: float = 0.95
    supply_tolerance: float = 0.2

    def __post_init__(self) -> None:
        _check_span(self.low_kpa, self.high_kpa)
        if not 0.0 <= self.open_below <= self.low_fraction < self.high_fraction <= self.open_above <= 1.0:
            raise ValueError(
                "fractions of the supply must rise from 0 to 1: open_below, low_fraction, high_fraction, open_above; "
                f"not {self.open_below:g}, {self.low_fraction:g}, {self.high_fraction:g}, {self.open_above:g}"
            )
        if not 0.0 < self.supply_v < math.inf:
            raise ValueError(f"the supply must be above 0 V, not {self.supply_v:g} V")
        if not 0.0 < self.supply_tolerance < 1.0:
            raise ValueError(f"the supply's tolerance must be between 0 and 1, not {self.supply_tolerance:g}")

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> Ratiometric(low_kpa=0.0, high_kpa=-100.0).gauge_kpa(2.5, 5.0)
        -50.0
        """
        return _line(signal / supply_v, self.low_fraction, self.low_kpa, self.high_fraction, self.high_kpa)

    def fault(self, signal: float, supply_v: float) -> Cause:
        """
        >>> Ratiometric(low_kpa=0.0, high_kpa=-100.0).fault(0.02, 5.0).word
        'open circuit'
        """
        if not abs(supply_v - self.supply_v) <= self.supply_tolerance * self.supply_v:
            return Cause.NO_SUPPLY
        return _between(signal / supply_v, self.open_below, self.open_above)


@dataclass(frozen=True, slots=True)
class CurrentLoop:
    """A current of 4 to 20 mA, failures signalled after NAMUR NE 43.

    Below 3.6 mA is a failure (``OPEN_CIRCUIT``; a broken wire is 0 mA), above 21 mA too (``SHORT_CIRCUIT``). Between
    those and the measuring range of 3.8 to 20.5 mA texts disagree: ``UNDER_RANGE`` and ``OVER_RANGE``, suspect only.

    Args:
        low_kpa, high_kpa: gauge pressure at 4 and at 20 mA.
        shunt_ohm: resistor over which the current is read as a voltage; ``None``: the signal arrives in mA.

    Raises:
        ValueError: pressures equal, or the shunt not above 0.
    """

    unit: ClassVar[Unit] = Unit.MA
    needs_supply: ClassVar[bool] = False

    low_kpa: float
    high_kpa: float
    shunt_ohm: float | None = None

    def __post_init__(self) -> None:
        _check_span(self.low_kpa, self.high_kpa)
        if self.shunt_ohm is not None and not 0.0 < self.shunt_ohm < math.inf:
            raise ValueError(f"the shunt must be above 0 ohm, not {self.shunt_ohm:g} ohm")

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> CurrentLoop(low_kpa=0.0, high_kpa=-100.0).gauge_kpa(8.0, 0.0)
        -25.0
        """
        del supply_v
        return _line(signal, 4.0, self.low_kpa, 20.0, self.high_kpa)

    def fault(self, signal: float, supply_v: float) -> Cause:
        """
        >>> CurrentLoop(low_kpa=0.0, high_kpa=-100.0).fault(3.7, 0.0).word
        'signal just below its range'
        """
        del supply_v
        if signal < 3.8:
            return Cause.OPEN_CIRCUIT if signal < 3.6 else Cause.UNDER_RANGE
        if signal > 20.5:
            return Cause.SHORT_CIRCUIT if signal > 21.0 else Cause.OVER_RANGE
        return Cause.NONE


@dataclass(frozen=True, slots=True)
class LinearVoltage:
    """A voltage on a straight line through two points of the data sheet, whatever the supply.

    Args:
        v1, kpa1, v2, kpa2: two points, volts and gauge pressure.
        fault_below_v, fault_above_v: beyond these it is no value (``OPEN_CIRCUIT``, ``SHORT_CIRCUIT``); ``None``: any
            voltage is one.

    Raises:
        ValueError: the points do not make a line, or the fault levels lie inside of them.
    """

    unit: ClassVar[Unit] = Unit.V
    needs_supply: ClassVar[bool] = False

    v1: float
    kpa1: float
    v2: float
    kpa2: float
    fault_below_v: float | None = None
    fault_above_v: float | None = None

    def __post_init__(self) -> None:
        _check_span(self.kpa1, self.kpa2)
        if not 0.0 < abs(self.v2 - self.v1) < math.inf:
            raise ValueError(f"two points need two voltages, not {self.v1:g} V and {self.v2:g} V")
        below = -math.inf if self.fault_below_v is None else self.fault_below_v
        above = math.inf if self.fault_above_v is None else self.fault_above_v
        if not below <= min(self.v1, self.v2) < max(self.v1, self.v2) <= above:
            raise ValueError(
                f"fault levels must leave the points between them: {below:g} V to {above:g} V "
                f"does not hold {self.v1:g} V and {self.v2:g} V"
            )

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> LinearVoltage(0.5, 0.0, 4.5, -100.0).gauge_kpa(2.5, 0.0)
        -50.0
        """
        del supply_v
        return _line(signal, self.v1, self.kpa1, self.v2, self.kpa2)

    def fault(self, signal: float, supply_v: float) -> Cause:
        """
        >>> LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.2).fault(0.1, 0.0).word
        'open circuit'
        """
        del supply_v
        return _between(signal, self.fault_below_v, self.fault_above_v)


@dataclass(frozen=True, slots=True)
class DirectPressure:
    """A signal that is a gauge pressure in kPa already.

    Args:
        vacuum_positive: the device counts vacuum as positive.
    """

    unit: ClassVar[Unit] = Unit.KPA
    needs_supply: ClassVar[bool] = False

    vacuum_positive: bool = False

    def gauge_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> DirectPressure(vacuum_positive=True).gauge_kpa(30.0, 0.0)
        -30.0
        """
        del supply_v
        return 0.0 - signal if self.vacuum_positive else signal

    def fault(self, signal: float, supply_v: float) -> Cause:
        """Find nothing: a number that a device worked out shows no electrical fault."""
        del signal, supply_v
        return Cause.NONE


def shunt_ma(volts: Quantity, shunt_ohm: float) -> Quantity:
    """Give the current through a shunt from the voltage over it.

    >>> shunt_ma(2.5, 250.0)
    10.0
    """
    return volts * 1000.0 / shunt_ohm


def _line(x: Quantity, x1: float, y1: float, x2: float, y2: float) -> Quantity:
    return y1 + (x - x1) * ((y2 - y1) / (x2 - x1))


def _between(signal: float, below: float | None, above: float | None) -> Cause:
    if below is not None and signal < below:
        return Cause.OPEN_CIRCUIT
    if above is not None and signal > above:
        return Cause.SHORT_CIRCUIT
    return Cause.NONE


def _check_span(kpa1: float, kpa2: float) -> None:
    if not 0.0 < abs(kpa2 - kpa1) < math.inf:
        raise ValueError(f"two different pressures make a line, not {kpa1:g} kPa and {kpa2:g} kPa")
