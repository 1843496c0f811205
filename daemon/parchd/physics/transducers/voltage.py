"""Transducers that give a voltage."""

import math
from dataclasses import dataclass, field
from typing import ClassVar

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.physics.transducers.kind import Bands, Plain, Supplied, bands, check_pressures, check_supply, line
from parchd.units import Quantity


@dataclass(frozen=True, slots=True)
class Ratiometric(Supplied):
    """A voltage that is a fraction of the supply; either polarity.

    Args:
        low_kpa, high_kpa: pressure at the low and the high fraction, against ``reference``. Of a gauge whose voltage
            rises with vacuum: 0 and -100 (so too a differential one of 0 to 100 kPa whose low-pressure port is on the
            tensiometer); if it falls with vacuum: -100 and 0. Of an absolute one, e.g. 15 and 115.
        low_fraction, high_fraction: of the supply, at those pressures.
        supply_v: nominal supply, for those who do not measure it. The converter's error comes 1:1 into the result then.
        open_below, open_above: fractions at which it is no value any more. Below: broken wire or short to ground
            (``OPEN_CIRCUIT``). Above: short to the supply, or a broken ground (``SHORT_CIRCUIT``). Parts differ.
        supply_tolerance: relative; a measured supply further off the nominal one is a fault (``NO_SUPPLY``).
        reference: what the pressures are measured against.

    Raises:
        ValueError: pressures equal, or fractions not in order between 0 and 1, or the supply not above 0.
    """

    unit: ClassVar[Unit] = Unit.V

    low_kpa: float
    high_kpa: float
    low_fraction: float = 0.1
    high_fraction: float = 0.9
    supply_v: float = 5.0
    open_below: float = 0.05
    open_above: float = 0.95
    supply_tolerance: float = 0.2
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check_pressures(self.low_kpa, self.high_kpa)
        if not 0.0 <= self.open_below <= self.low_fraction < self.high_fraction <= self.open_above <= 1.0:
            raise ValueError(
                "fractions of the supply must rise from 0 to 1: open_below, low_fraction, high_fraction, open_above; "
                f"not {self.open_below:g}, {self.low_fraction:g}, {self.high_fraction:g}, {self.open_above:g}"
            )
        check_supply(self.supply_v, self.supply_tolerance)
        ends = bands(self.open_below, self.open_above, Cause.OPEN_CIRCUIT, Cause.SHORT_CIRCUIT)
        object.__setattr__(self, "bands", ends)

    @property
    def nominal_supply_v(self) -> float:
        return self.supply_v

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> Ratiometric(low_kpa=0.0, high_kpa=-100.0).indicated_kpa(2.5, 5.0)
        -50.0
        >>> Ratiometric(low_kpa=0.0, high_kpa=-100.0).fault(0.02, 5.0).word
        'open circuit'
        """
        return line(signal / supply_v, self.low_fraction, self.low_kpa, self.high_fraction, self.high_kpa)


@dataclass(frozen=True, slots=True)
class LinearVoltage(Plain):
    """A voltage on a straight line through two points of the data sheet, whatever the supply.

    Args:
        v1, kpa1, v2, kpa2: two points, volts and pressure against ``reference``.
        fault_below_v, fault_above_v: beyond these it is no value (``OPEN_CIRCUIT``, ``SHORT_CIRCUIT``); ``None``: any
            voltage is one.
        reference: what the pressures are measured against.

    Raises:
        ValueError: the points do not make a line, or the fault levels lie inside of them.
    """

    unit: ClassVar[Unit] = Unit.V

    v1: float
    kpa1: float
    v2: float
    kpa2: float
    fault_below_v: float | None = None
    fault_above_v: float | None = None
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check_pressures(self.kpa1, self.kpa2)
        if not 0.0 < abs(self.v2 - self.v1) < math.inf:
            raise ValueError(f"two points need two voltages, not {self.v1:g} V and {self.v2:g} V")
        below = -math.inf if self.fault_below_v is None else self.fault_below_v
        above = math.inf if self.fault_above_v is None else self.fault_above_v
        if not below <= min(self.v1, self.v2) < max(self.v1, self.v2) <= above:
            raise ValueError(
                f"fault levels must leave the points between them: {below:g} V to {above:g} V "
                f"does not hold {self.v1:g} V and {self.v2:g} V"
            )
        ends = bands(self.fault_below_v, self.fault_above_v, Cause.OPEN_CIRCUIT, Cause.SHORT_CIRCUIT)
        object.__setattr__(self, "bands", ends)

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> LinearVoltage(0.5, 0.0, 4.5, -100.0).indicated_kpa(2.5, 0.0)
        -50.0
        >>> LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.2).fault(0.1, 0.0).word
        'open circuit'
        """
        del supply_v
        return line(signal, self.v1, self.kpa1, self.v2, self.kpa2)
