"""Bare strain-gauge and silicon bridges."""

import math
from dataclasses import dataclass, field
from typing import ClassVar

from parchd.contract import Cause, Unit
from parchd.physics.reference import Reference
from parchd.physics.transducers.kind import Bands, Supplied, bands, check_supply
from parchd.units import Quantity


@dataclass(frozen=True, slots=True)
class Bridge(Supplied):
    """A Wheatstone bridge: some millivolts for each volt of its excitation.

    The signal is the voltage across the bridge's output, ahead of any amplifier (the amplifier is the converter's
    gain). Where the converter takes the excitation itself as its reference, leave the excitation at its nominal value
    in both: it drops out.

    A broken bridge wire pulls the output far out of its range to either side, which is seen (``OPEN_CIRCUIT``). An
    output shorted in itself gives 0 mV, which no electrical check can tell from no pressure.

    Args:
        sensitivity_mv_per_v: millivolts per volt at full scale.
        full_scale_kpa: pressure at full scale.
        excitation_v: nominal, for those who do not measure it.
        zero_mv_per_v: output without pressure.
        vacuum_positive: the signal rises with vacuum: the low-pressure port is on the tensiometer, or the two output
            wires are exchanged.
        over_range: multiple of full scale beyond which, to either side, it is no value any more.
        supply_tolerance: relative; a measured excitation further off the nominal one is a fault (``NO_SUPPLY``).
        reference: what the pressure is measured against.

    Raises:
        ValueError: an argument is out of its range, or an absolute bridge is said to rise with vacuum.

    Source: V = S Vexc P / P_FS + zero, the transfer function of every such data sheet.
    """

    unit: ClassVar[Unit] = Unit.V

    sensitivity_mv_per_v: float
    full_scale_kpa: float
    excitation_v: float = 5.0
    zero_mv_per_v: float = 0.0
    vacuum_positive: bool = False
    over_range: float = 1.5
    supply_tolerance: float = 0.2
    reference: Reference = Reference.GAUGE
    bands: Bands = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        _check_above_zero(self.sensitivity_mv_per_v, "sensitivity of a bridge", "mV/V")
        _check_above_zero(self.full_scale_kpa, "full scale of a bridge", "kPa")
        if not abs(self.zero_mv_per_v) < math.inf:
            raise ValueError(f"the zero of a bridge must be a number, not {self.zero_mv_per_v:g} mV/V")
        if not 1.0 <= self.over_range < math.inf:
            raise ValueError(f"over_range counts full scales and is 1 or more, not {self.over_range:g}")
        if self.vacuum_positive and self.reference is not Reference.GAUGE:
            raise ValueError("only a gauge can rise with vacuum: an absolute or sealed bridge falls")
        check_supply(self.excitation_v, self.supply_tolerance, "excitation")
        room = self.over_range * self.sensitivity_mv_per_v
        low, high = (self.zero_mv_per_v - room) / 1000.0, (self.zero_mv_per_v + room) / 1000.0
        object.__setattr__(self, "bands", bands(low, high, Cause.OPEN_CIRCUIT, Cause.OPEN_CIRCUIT))

    @property
    def nominal_supply_v(self) -> float:
        return self.excitation_v

    def indicated_kpa(self, signal: Quantity, supply_v: Quantity | float) -> Quantity:
        """
        >>> bridge = Bridge(sensitivity_mv_per_v=3.33, full_scale_kpa=100.0)
        >>> round(bridge.indicated_kpa(-0.008325, 5.0), 6)
        -50.0
        >>> bridge.fault(2.5, 5.0).word
        'open circuit'
        """
        share = (signal * 1000.0 / supply_v - self.zero_mv_per_v) / self.sensitivity_mv_per_v
        return share * (-self.full_scale_kpa if self.vacuum_positive else self.full_scale_kpa)


def _check_above_zero(value: float, what: str, unit: str) -> None:
    if not 0.0 < value < math.inf:
        raise ValueError(f"the {what} must be above 0 {unit}, not {value:g} {unit}")
