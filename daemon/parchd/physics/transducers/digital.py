"""Transducers that digitise by themselves."""

from dataclasses import dataclass, field
from typing import ClassVar

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.physics.transducers.kind import Bands, Plain, check_pressures, just_above, line
from parchd.units import Quantity


@dataclass(frozen=True, slots=True)
class DigitalScale(Plain):
    """Codes of which two percentages of the scale stand for two pressures.

    Every code must come as it was sent, not as an average: status bits do not survive averaging. A status bit that is
    set is a fault (``STATUS``); so is a code at or near an end of the scale (``SATURATED``).

    Args:
        bits: of the pressure, 8 to 32, without status bits.
        low_kpa, high_kpa: pressure at the low and at the high percentage, against ``reference``.
        low_percent, high_percent: of 2^bits.
        status_bits: bits above those of the pressure; 0 to 8.
        tolerance_percent: a code further than this outside the two percentages is a fault. The end codes always are.
        reference: what the pressures are measured against.

    Raises:
        ValueError: an argument is out of its range.

    Source: P = Pmin + (N - low 2^bits) (Pmax - Pmin) / ((high - low) 2^bits), as such data sheets have it.
    """

    unit: ClassVar[Unit] = Unit.COUNTS

    bits: int
    low_kpa: float
    high_kpa: float
    low_percent: float = 10.0
    high_percent: float = 90.0
    status_bits: int = 0
    tolerance_percent: float = 5.0
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        check_pressures(self.low_kpa, self.high_kpa)
        if not 8 <= self.bits <= 32:
            raise ValueError(f"a digital transducer has 8 to 32 bits of pressure, not {self.bits}")
        if not 0 <= self.status_bits <= 8:
            raise ValueError(f"a digital transducer has 0 to 8 status bits, not {self.status_bits}")
        if not 0.0 <= self.low_percent < self.high_percent <= 100.0:
            raise ValueError(
                f"percentages must rise from 0 to 100, not from {self.low_percent:g} to {self.high_percent:g}"
            )
        if not 0.0 <= self.tolerance_percent <= 100.0:
            raise ValueError(f"the tolerance must be 0 to 100 %, not {self.tolerance_percent:g} %")
        object.__setattr__(self, "bands", self._stretches())

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> scale = DigitalScale(bits=14, low_kpa=-100.0, high_kpa=0.0, status_bits=2)
        >>> round(scale.indicated_kpa(9502.7, 0.0), 3)
        -40.0
        >>> scale.fault(float(0b10 << 14 | 9503), 0.0).word
        'transducer reports a fault'
        """
        del supply_v
        return line(signal % self._codes, self._code(self.low_percent), self.low_kpa, self._code(self.high_percent),
                    self.high_kpa)  # fmt: skip

    @property
    def _codes(self) -> float:
        return float(1 << self.bits)

    def _code(self, percent: float) -> float:
        return percent * self._codes / 100.0

    def _stretches(self) -> Bands:
        lowest = max(self._code(self.low_percent - self.tolerance_percent), 1.0)
        highest = min(self._code(self.high_percent + self.tolerance_percent), self._codes - 2.0)
        edges = (lowest, just_above(highest), self._codes, self._codes * (1 << self.status_bits))
        return Bands(edges, (Cause.SATURATED, Cause.NONE, Cause.SATURATED, Cause.STATUS, Cause.SATURATED))
