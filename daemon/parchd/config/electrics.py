"""Tables of transducers and converters: what stands under ``[transducers.NAME]``."""

from typing import Annotated, Literal

from pydantic import Field

from parchd.config.fields import Channel, Number, TableModel, Whole
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, DirectPressure, LinearVoltage, Ratiometric

Pressure = Annotated[Number, Field(ge=-1000, le=1000)]
Fraction = Annotated[Number, Field(ge=0, le=1)]


class AdcTable(TableModel):
    """``[transducers.NAME.adc]``: samples arrive as counts."""

    bits: Whole = Field(ge=2, le=32, description="bits of the converter, e.g. 12")
    full_scale_v: Number = Field(gt=0, le=1000, description="volts at full scale, e.g. 3.3 or 4.096")
    signed: bool = Field(False, description="true if its codes run from negative to positive")
    steps: Literal["2^N", "2^N-1"] = Field("2^N", description='steps in the full scale, "2^N" or "2^N-1"')
    gain: Number = Field(1.0, gt=0, le=10_000, description="of the amplifier ahead of it; below 1 for a divider")

    def build(self) -> Adc:
        return Adc(self.bits, self.full_scale_v, self.signed, self.steps, self.gain)


class RatiometricTable(TableModel):
    """A voltage that is a fraction of the supply."""

    kind: Literal["ratiometric"]
    low_kpa: Pressure = Field(description="gauge pressure at low_fraction, vacuum negative, e.g. 0")
    high_kpa: Pressure = Field(description="gauge pressure at high_fraction, vacuum negative, e.g. -100")
    low_fraction: Fraction = Field(0.1, description="fraction of the supply at low_kpa")
    high_fraction: Fraction = Field(0.9, description="fraction of the supply at high_kpa")
    supply_v: Number = Field(5.0, gt=0, le=100, description="nominal supply in volts")
    supply_channel: Channel | None = Field(None, description="channel that measures the supply, e.g. bus1/vcc")
    supply_tolerance: Number = Field(0.2, gt=0, lt=1, description="measured supply may be off by this fraction")
    open_below: Fraction = Field(0.05, description="fraction of the supply below which the line is broken")
    open_above: Fraction = Field(0.95, description="fraction of the supply above which the line is shorted")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    def build(self) -> Ratiometric:
        return Ratiometric(
            self.low_kpa, self.high_kpa, self.low_fraction, self.high_fraction, self.supply_v, self.open_below,
            self.open_above, self.supply_tolerance,
        )  # fmt: skip

    @property
    def pressures_kpa(self) -> tuple[float, float] | None:
        return self.low_kpa, self.high_kpa


class CurrentLoopTable(TableModel):
    """A current of 4 to 20 mA."""

    kind: Literal["current-loop"]
    low_kpa: Pressure = Field(description="gauge pressure at 4 mA, vacuum negative, e.g. 0")
    high_kpa: Pressure = Field(description="gauge pressure at 20 mA, vacuum negative, e.g. -100")
    shunt_ohm: Number | None = Field(None, gt=0, le=100_000, description="shunt resistor, if samples are volts over it")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    def build(self) -> CurrentLoop:
        return CurrentLoop(self.low_kpa, self.high_kpa, self.shunt_ohm)

    @property
    def pressures_kpa(self) -> tuple[float, float] | None:
        return self.low_kpa, self.high_kpa


class LinearTable(TableModel):
    """A voltage on a straight line, whatever the supply."""

    kind: Literal["linear"]
    v1: Number = Field(ge=-1000, le=1000, description="volts at the first point of the data sheet")
    kpa1: Pressure = Field(description="gauge pressure at v1, vacuum negative")
    v2: Number = Field(ge=-1000, le=1000, description="volts at the second point")
    kpa2: Pressure = Field(description="gauge pressure at v2, vacuum negative")
    fault_below_v: Number | None = Field(None, description="volts below which the line is broken")
    fault_above_v: Number | None = Field(None, description="volts above which the line is shorted")
    adc: AdcTable | None = Field(None, description="the converter, if samples arrive as counts")

    def build(self) -> LinearVoltage:
        return LinearVoltage(self.v1, self.kpa1, self.v2, self.kpa2, self.fault_below_v, self.fault_above_v)

    @property
    def pressures_kpa(self) -> tuple[float, float] | None:
        return self.kpa1, self.kpa2


class PressureTable(TableModel):
    """Samples are gauge pressures in kPa already."""

    kind: Literal["pressure"]
    vacuum_positive: bool = Field(False, description="true if the device counts vacuum as positive")

    def build(self) -> DirectPressure:
        return DirectPressure(self.vacuum_positive)

    @property
    def pressures_kpa(self) -> tuple[float, float] | None:
        return None


TransducerTable = RatiometricTable | CurrentLoopTable | LinearTable | PressureTable
AnyTransducer = Annotated[TransducerTable, Field(discriminator="kind")]
