"""The table of a converter: what turns a transducer's volts into counts."""

from typing import Annotated, Literal

from pydantic import Field

from parchd.config.fields import Number, TableModel, Whole
from parchd.physics.adc import Adc, divider_gain

Ohm = Annotated[Number, Field(gt=0, le=100_000_000)]


class AdcTable(TableModel):
    """``[transducers.NAME.adc]``: samples arrive as counts."""

    bits: Whole = Field(ge=2, le=32, description="bits of the converter, e.g. 12")
    full_scale_v: Number = Field(gt=0, le=1000, description="volts at full scale, e.g. 3.3 or 4.096")
    signed: bool = Field(False, description="true if its codes run from negative to positive")
    steps: Literal["2^N", "2^N-1"] = Field("2^N", description='steps in the full scale, "2^N" or "2^N-1"')
    gain: Number = Field(1.0, gt=0, le=10_000, description="of the amplifier ahead of it")
    divider_ohm: tuple[Ohm, Ohm] | None = Field(
        None, description="resistors of a divider ahead of it: [from the signal, to ground], instead of gain"
    )

    @property
    def written_twice(self) -> bool:
        """Whether both a gain and a divider are written: only one of them can hold."""
        return self.divider_ohm is not None and "gain" in self.model_fields_set

    @property
    def reach_v(self) -> float:
        """Voltage of the transducer at full scale."""
        return self.full_scale_v / self.build().gain

    def build(self) -> Adc:
        gain = self.gain if self.divider_ohm is None else divider_gain(*self.divider_ohm)
        return Adc(self.bits, self.full_scale_v, self.signed, self.steps, gain)
