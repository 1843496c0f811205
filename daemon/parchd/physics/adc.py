"""Codes of an analogue-to-digital converter."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from parchd.units import Quantity

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Adc:
    """A converter with what stands ahead of it.

    Args:
        bits: 2 to 32.
        full_scale_v: volts at the top of the scale: the reference of a unipolar converter, the positive end of a
            signed one.
        signed: codes run from -2^(bits-1) to 2^(bits-1) - 1. The same codes read as unsigned numbers (0xFFFF for -1)
            are understood too.
        steps: whether the full scale is 2^N steps (as most data sheets have it) or 2^N - 1; for a signed converter N is
            bits - 1. The difference is 0.1 % at 10 bits.
        gain: of the amplifier ahead of the converter; below one for a voltage divider.

    Raises:
        ValueError: an argument is out of its range.
    """

    bits: int
    full_scale_v: float
    signed: bool = False
    steps: Literal["2^N", "2^N-1"] = "2^N"
    gain: float = 1.0

    def __post_init__(self) -> None:
        if not 2 <= self.bits <= 32:
            raise ValueError(f"a converter has 2 to 32 bits, not {self.bits}")
        if not 0.0 < self.full_scale_v < math.inf:
            raise ValueError(f"the full scale must be above 0 V, not {self.full_scale_v:g} V")
        if not 0.0 < self.gain < math.inf:
            raise ValueError(f"the gain must be above 0, not {self.gain:g}")

    def volts(self, code: Quantity) -> Quantity:
        """Give the voltage ahead of the amplifier or divider.

        Args:
            code: may be an average of codes, not a whole number.

        Source: the ideal transfer function, code * full scale / steps / gain.

        >>> Adc(bits=12, full_scale_v=3.3).volts(2048.0)
        1.65
        >>> Adc(bits=16, full_scale_v=6.144, signed=True).volts(6700.0)
        1.25625
        """
        return self._folded(code) * (self.full_scale_v / self._full_steps / self.gain)

    def at_rail(self, code: float) -> bool:
        """Tell whether the converter stood at an end of its range or beyond: there is no value then.

        An average less than one code away from an end has such codes in it, and counts as well.

        >>> adc = Adc(bits=12, full_scale_v=3.3)
        >>> [adc.at_rail(code) for code in (0, 1, 4094, 4094.5, 4095)]
        [True, False, False, True, True]
        """
        if not self._lowest <= code <= self._codes - 1:
            return True
        return not self._lowest + 1 <= self._folded(code) <= self._lowest + self._codes - 2

    def at_rails(self, codes: "NDArray[float64]") -> "NDArray[bool_]":
        """Tell of each code of a column what `at_rail` tells."""
        folded = self._folded(codes)
        inside = (codes >= self._lowest) & (codes <= self._codes - 1)
        return ~(inside & (folded >= self._lowest + 1) & (folded <= self._lowest + self._codes - 2))

    @property
    def _codes(self) -> int:
        return 1 << self.bits

    @property
    def _lowest(self) -> int:
        return -self._codes // 2 if self.signed else 0

    @property
    def _full_steps(self) -> int:
        return (self._codes >> self.signed) - (self.steps == "2^N-1")

    def _folded(self, code: Quantity) -> Quantity:
        return (code - self._lowest) % self._codes + self._lowest


def divider_gain(top_ohm: float, bottom_ohm: float) -> float:
    """Give the gain of a voltage divider ahead of a converter, for `Adc`.

    Args:
        top_ohm: between the signal and the converter's input.
        bottom_ohm: between the input and ground.

    Raises:
        ValueError: a resistor is not above 0 (0 ohm at the top is no divider, but does no harm).

    >>> divider_gain(10_000.0, 20_000.0) == 2 / 3
    True
    """
    if not (0.0 <= top_ohm < math.inf and 0.0 < bottom_ohm < math.inf):
        raise ValueError(f"resistors of a divider must be above 0 ohm, not {top_ohm:g} and {bottom_ohm:g} ohm")
    return bottom_ohm / (top_ohm + bottom_ohm)
