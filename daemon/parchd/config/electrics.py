"""Tables of each kind of transducer: what stands under ``[transducers.NAME]``."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Literal, get_args

from pydantic import BeforeValidator, Field

from parchd.config.converters import AdcTable
from parchd.config.fields import Channel, Number, Whole
from parchd.config.generic import KINDS, expanded
from parchd.config.transducer_table import Pressure, TransducerTable
from parchd.physics.transducers import (
    Bridge,
    CurrentLoop,
    DigitalScale,
    DirectPressure,
    LinearVoltage,
    Ratiometric,
)

Fraction = Annotated[Number, Field(ge=0, le=1)]
Percent = Annotated[Number, Field(ge=0, le=100)]


class RatiometricTable(TransducerTable):
    """A voltage that is a fraction of the supply."""

    makes = Ratiometric
    kind: Literal["ratiometric"]
    low_kpa: Pressure = Field(description="pressure at low_fraction, vacuum of a gauge negative, e.g. 0")
    high_kpa: Pressure = Field(description="pressure at high_fraction, vacuum of a gauge negative, e.g. -100")
    low_fraction: Fraction = Field(0.1, description="fraction of the supply at low_kpa")
    high_fraction: Fraction = Field(0.9, description="fraction of the supply at high_kpa")
    supply_v: Number = Field(5.0, gt=0, le=100, description="nominal supply in volts")
    supply_channel: Channel | None = Field(None, description="channel that measures the supply, e.g. bus1/vcc")
    supply_tolerance: Number = Field(0.2, gt=0, lt=1, description="measured supply may be off by this fraction")
    open_below: Fraction = Field(0.05, description="fraction of the supply below which the line is broken")
    open_above: Fraction = Field(0.95, description="fraction of the supply above which the line is shorted")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    @property
    def ends_kpa(self) -> tuple[float, float]:
        return self.low_kpa, self.high_kpa

    @property
    def ends_v(self) -> tuple[float, float]:
        return self.low_fraction * self.supply_v, self.high_fraction * self.supply_v


class CurrentLoopTable(TransducerTable):
    """A current of 4 to 20 mA."""

    makes = CurrentLoop
    kind: Literal["current-loop"]
    low_kpa: Pressure = Field(description="pressure at 4 mA, vacuum of a gauge negative, e.g. 0")
    high_kpa: Pressure = Field(description="pressure at 20 mA, vacuum of a gauge negative, e.g. -100")
    shunt_ohm: Number | None = Field(None, gt=0, le=100_000, description="shunt resistor, if samples are volts over it")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    @property
    def ends_kpa(self) -> tuple[float, float]:
        return self.low_kpa, self.high_kpa

    @property
    def ends_v(self) -> tuple[float, float] | None:
        return None if self.shunt_ohm is None else (0.004 * self.shunt_ohm, 0.020 * self.shunt_ohm)


class LinearTable(TransducerTable):
    """A voltage on a straight line, whatever the supply."""

    makes = LinearVoltage
    kind: Literal["linear"]
    v1: Number = Field(ge=-1000, le=1000, description="volts at the first point of the data sheet")
    kpa1: Pressure = Field(description="pressure at v1, vacuum of a gauge negative")
    v2: Number = Field(ge=-1000, le=1000, description="volts at the second point")
    kpa2: Pressure = Field(description="pressure at v2, vacuum of a gauge negative")
    fault_below_v: Number | None = Field(None, description="volts below which the line is broken")
    fault_above_v: Number | None = Field(None, description="volts above which the line is shorted")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    @property
    def ends_kpa(self) -> tuple[float, float]:
        return self.kpa1, self.kpa2

    @property
    def ends_v(self) -> tuple[float, float]:
        return min(self.v1, self.v2), max(self.v1, self.v2)

    @property
    def last_key(self) -> str:
        return "kpa2"


class BridgeTable(TransducerTable):
    """A bare bridge: millivolts for each volt of its excitation."""

    makes = Bridge
    kind: Literal["bridge"]
    sensitivity_mv_per_v: Number = Field(gt=0, le=1000, description="millivolts per volt at full scale, e.g. 3.33")
    full_scale_kpa: Number = Field(gt=0, le=1000, description="pressure at full scale, e.g. 100")
    excitation_v: Number = Field(5.0, gt=0, le=100, description="nominal excitation in volts")
    supply_channel: Channel | None = Field(None, description="channel that measures the excitation, e.g. bus1/vex")
    supply_tolerance: Number = Field(0.2, gt=0, lt=1, description="measured excitation may be off by this fraction")
    zero_mv_per_v: Number = Field(0.0, ge=-1000, le=1000, description="output without pressure, millivolts per volt")
    vacuum_positive: bool = Field(False, description="true if its output rises with vacuum")
    over_range: Number = Field(1.5, ge=1, le=100, description="so many full scales, to either side, and it is broken")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    @property
    def ends_kpa(self) -> tuple[float, float]:
        """A gauge goes as far down as up; an absolute one begins at nothing."""
        return (0.0 if self.reference == "absolute" else -self.full_scale_kpa), self.full_scale_kpa

    @property
    def ends_v(self) -> tuple[float, float]:
        """At rest and at full vacuum (absolute: without and at full pressure)."""
        rises = self.vacuum_positive or self.reference == "absolute"
        far = self.zero_mv_per_v + (self.sensitivity_mv_per_v if rises else -self.sensitivity_mv_per_v)
        low, high = sorted((self.zero_mv_per_v * self.excitation_v / 1000, far * self.excitation_v / 1000))
        return low, high

    @property
    def last_key(self) -> str:
        return "full_scale_kpa"


class DigitalTable(TransducerTable):
    """A transducer that sends codes: percentages of its scale are pressures."""

    makes = DigitalScale
    kind: Literal["digital"]
    bits: Whole = Field(ge=8, le=32, description="bits of the pressure, without status bits, e.g. 14")
    low_kpa: Pressure = Field(description="pressure at low_percent, vacuum of a gauge negative, e.g. -100")
    high_kpa: Pressure = Field(description="pressure at high_percent, vacuum of a gauge negative, e.g. 0")
    low_percent: Percent = Field(10.0, description="percentage of the scale at low_kpa")
    high_percent: Percent = Field(90.0, description="percentage of the scale at high_kpa")
    status_bits: Whole = Field(0, ge=0, le=8, description="bits above those of the pressure that tell of faults")
    tolerance_percent: Percent = Field(
        5.0, description="a code so far outside of the two percentages is a fault, percent of the scale"
    )

    @property
    def ends_kpa(self) -> tuple[float, float]:
        return self.low_kpa, self.high_kpa


class PressureTable(TransducerTable):
    """Samples are pressures in kPa or hPa already."""

    makes = DirectPressure
    kind: Literal["pressure"]
    vacuum_positive: bool = Field(False, description="true if the device counts vacuum as positive")


AnyKind = RatiometricTable | CurrentLoopTable | LinearTable | BridgeTable | DigitalTable | PressureTable
BY_KIND: Mapping[str, type[AnyKind]] = MappingProxyType({KINDS[table.makes]: table for table in get_args(AnyKind)})
AnyTransducer = Annotated[AnyKind, Field(discriminator="kind"), BeforeValidator(expanded)]
