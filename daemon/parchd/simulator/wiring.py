"""How transducers are wired: from gauge pressure to the number a gateway sends."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.contract import Unit
from parchd.physics.adc import Adc
from parchd.physics.transducers import Transducer
from parchd.physics.transducers.generic import GENERIC

Floats = NDArray[np.float64]
DEAD_KPA = 12.5
"""Gauge pressure that belongs to 0 V on a line from 0.5 V at 0 kPa to 4.5 V at 100 kPa of vacuum."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """One way of wiring.

    Args:
        transducer: what the farm believes it has.
        unit: of the numbers sent.
        converter: turns volts into codes; also where the gateway sends volts again. ``None``: another converter of
            which only the step is known.
        step: of the number sent where there is no converter.
        open_signal, short_signal: signal of a broken wire, and of one that touches the supply; NaN: none.
        word_bytes: bytes of the raw word: 2 for codes, 4 for floating point.
    """

    transducer: Transducer
    unit: Unit
    converter: Adc | None
    step: float = 0.0
    open_signal: float = float("nan")
    short_signal: float = float("nan")
    word_bytes: int = 4

    @property
    def dead_signal(self) -> float:
        """Signal while the supply is away: 0 V, or what a device makes of that that works out pressures itself."""
        if self.transducer.unit is not Unit.KPA:
            return 0.0
        return self.transducer.indicated_kpa(DEAD_KPA, 0.0)

    @property
    def tells_open(self) -> bool:
        """Whether a broken wire can be told from a value."""
        return self.open_signal == self.open_signal

    @property
    def has_rails(self) -> bool:
        """Whether codes are sent, whose ends are no values."""
        return self.unit is Unit.COUNTS

    def signal(self, gauge_kpa: Floats) -> Floats:
        """Give the electrical signal of a gauge pressure (the inverse of the transducer's line)."""
        low, high = (0.2, 0.8) if self.transducer.unit is not Unit.COUNTS else (4000.0, 12000.0)
        supply = self.transducer.nominal_supply_v
        at_low, at_high = (self.transducer.indicated_kpa(x, supply) for x in (low, high))
        signal: Floats = low + (gauge_kpa - at_low) * ((high - low) / (at_high - at_low))
        return signal

    def sent(self, signal: Floats) -> Floats:
        """Give the number that leaves the gateway: through the converter, with its steps and ends."""
        if self.converter is not None:
            code = self._code(signal)
            if self.unit is Unit.COUNTS:
                return code
            signal = self.converter.volts(code)
        scale = 1000.0 if self.unit is Unit.MV else 1.0
        if self.step <= 0.0:
            return signal * scale
        stepped: Floats = np.round(signal * scale / self.step) * self.step
        return stepped

    def rail(self) -> float:
        """The upper end of the converter."""
        if self.converter is None:
            return float("nan")
        return float((1 << self.converter.bits >> self.converter.signed) - 1)

    def _code(self, signal: Floats) -> Floats:
        assert self.converter is not None
        lowest = -float(1 << self.converter.bits >> 1) if self.converter.signed else 0.0
        code: Floats = np.clip(np.round(signal / self.converter.volts(1.0)), lowest, self.rail())
        return code


_RISING, _FALLING = GENERIC["ratiometric-5v-rising"], GENERIC["ratiometric-5v-falling"]
_SMALL = GENERIC["ratiometric-3v3-rising"]

WIRINGS: Mapping[str, Wiring] = MappingProxyType(
    {
        "ratiometric 5 V, 12 bits": Wiring(_RISING, Unit.COUNTS, Adc(12, 3.3, gain=0.6), 0.0, 0.1, 4.95, 2),
        "ratiometric 5 V, 16 bits": Wiring(_FALLING, Unit.COUNTS, Adc(16, 6.144, signed=True), 0.0, 0.1, 4.95, 2),
        "ratiometric 5 V, 10 bits": Wiring(_RISING, Unit.COUNTS, Adc(10, 5.0, gain=0.9), 0.0, 0.1, 4.95, 2),
        "ratiometric 5 V in volts": Wiring(_FALLING, Unit.V, Adc(16, 6.144, signed=True), 0.0001, 0.05, 4.95),
        "ratiometric 3.3 V in millivolts": Wiring(_SMALL, Unit.MV, Adc(12, 3.6), 0.1, 0.03, 3.27),
        "0.5 to 4.5 V in volts": Wiring(GENERIC["volts-0v5-4v5"], Unit.V, Adc(14, 6.144), 0.0001, 0.05, 4.98),
        "loop 4 to 20 mA": Wiring(GENERIC["loop-4-20"], Unit.MA, None, 0.002, 0.0, 22.0),
        "vacuum in kPa": Wiring(GENERIC["vacuum-kpa"], Unit.KPA, None, 0.01),
        "pressure in kPa": Wiring(GENERIC["gauge-kpa"], Unit.KPA, None, 0.01),
    }
)  # fmt: skip
