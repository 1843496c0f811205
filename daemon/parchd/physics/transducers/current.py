"""Transducers on a current loop."""

import math
from dataclasses import dataclass, field
from typing import ClassVar

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.physics.transducers.kind import Bands, Plain, check_pressures, just_above, line
from parchd.units import Quantity

_NE_43 = Bands(
    (3.6, 3.8, just_above(20.5), just_above(21.0)),
    (Cause.OPEN_CIRCUIT, Cause.UNDER_RANGE, Cause.NONE, Cause.OVER_RANGE, Cause.SHORT_CIRCUIT),
)


@dataclass(frozen=True, slots=True)
class CurrentLoop(Plain):
    """A current of 4 to 20 mA, failures signalled after NAMUR NE 43.

    Below 3.6 mA is a failure (``OPEN_CIRCUIT``; a broken wire is 0 mA), above 21 mA too (``SHORT_CIRCUIT``). Between
    those and the measuring range of 3.8 to 20.5 mA texts disagree: ``UNDER_RANGE`` and ``OVER_RANGE``, suspect only.

    Args:
        low_kpa, high_kpa: pressure at 4 and at 20 mA, against ``reference``.
        shunt_ohm: resistor over which the current is read as a voltage; ``None``: the signal arrives in mA.
        reference: what the pressures are measured against.

    Raises:
        ValueError: pressures equal, or the shunt not above 0.
    """

    unit: ClassVar[Unit] = Unit.MA

    low_kpa: float
    high_kpa: float
    shunt_ohm: float | None = None
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False, default=_NE_43)

    def __post_init__(self) -> None:
        check_pressures(self.low_kpa, self.high_kpa)
        if self.shunt_ohm is not None and not 0.0 < self.shunt_ohm < math.inf:
            raise ValueError(f"the shunt must be above 0 ohm, not {self.shunt_ohm:g} ohm")

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> CurrentLoop(low_kpa=0.0, high_kpa=-100.0).indicated_kpa(8.0, 0.0)
        -25.0
        >>> CurrentLoop(low_kpa=0.0, high_kpa=-100.0).fault(3.7, 0.0).word
        'signal just below its range'
        """
        del supply_v
        return line(signal, 4.0, self.low_kpa, 20.0, self.high_kpa)


def shunt_ma(volts: Quantity, shunt_ohm: float) -> Quantity:
    """Give the current through a shunt from the voltage over it.

    >>> shunt_ma(2.5, 250.0)
    10.0
    """
    return volts * 1000.0 / shunt_ohm
