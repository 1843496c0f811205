"""Devices that work out the pressure themselves."""

from dataclasses import dataclass, field
from typing import ClassVar

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.physics.transducers.kind import Bands, Plain
from parchd.units import Quantity

_ANYTHING = Bands((), (Cause.NONE,))


@dataclass(frozen=True, slots=True)
class DirectPressure(Plain):
    """A signal that is a pressure in kPa already: the number shows no electrical fault.

    Args:
        vacuum_positive: the device counts vacuum as positive.
        reference: what the pressure is measured against.

    Raises:
        ValueError: an absolute or sealed one is said to count vacuum as positive.
    """

    unit: ClassVar[Unit] = Unit.KPA

    vacuum_positive: bool = False
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False, default=_ANYTHING)

    def __post_init__(self) -> None:
        if self.vacuum_positive and self.reference is not Reference.GAUGE:
            raise ValueError("only a gauge can count vacuum as positive: an absolute or sealed pressure falls")

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> DirectPressure(vacuum_positive=True).indicated_kpa(30.0, 0.0)
        -30.0
        """
        del supply_v
        return 0.0 - signal if self.vacuum_positive else signal
