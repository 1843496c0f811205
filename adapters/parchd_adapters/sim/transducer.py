"""From pressure to what a converter shows."""

import math
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, model_validator

from parchd.contract import Options, Unit


class Shape(StrEnum):
    RATIOMETRIC = "ratiometric"
    """10 to 90 % of the supply over the range, rising with vacuum."""
    CURRENT_LOOP = "current-loop"
    """4 to 20 mA over the range, rising with vacuum, over a shunt."""


class Transducer(Options):
    """A transducer and the converter behind it."""

    shape: Shape = Shape.RATIOMETRIC
    output: Literal[Unit.V, Unit.MV, Unit.MA, Unit.COUNTS] = Unit.V
    full_kpa: Annotated[float, Field(gt=0)] = 100.0
    supply_v: Annotated[float, Field(gt=0)] = 5.0
    supply_swing_v: Annotated[float, Field(ge=0)] = 0.0
    shunt_ohm: Annotated[float, Field(gt=0)] = 150.0
    bits: Annotated[int, Field(ge=8, le=24)] = 16
    reference_v: Annotated[float, Field(gt=0)] = 5.0

    @model_validator(mode="after")
    def _check_output(self) -> "Transducer":
        if self.output is Unit.MA and self.shape is not Shape.CURRENT_LOOP:
            raise ValueError("output: V, mV or counts, because shape is ratiometric")
        return self


def signal(transducer: Transducer, gauge_kpa: float, supply_v: float) -> float:
    """Return what the converter shows for a pressure (negative for vacuum), in the transducer's output unit.

    >>> signal(Transducer(bits=24), -50.0, 5.0), signal(Transducer(bits=10, output=Unit.COUNTS), -50.0, 5.0)
    (2.5, 512.0)
    """
    part = -gauge_kpa / transducer.full_kpa
    if transducer.shape is Shape.RATIOMETRIC:
        return convert(transducer, supply_v * min(max(0.1 + 0.8 * part, 0.02), 0.98))
    return convert(transducer, min(max(4 + 16 * part, 3.6), 21.0) * transducer.shunt_ohm / 1000)


def convert(transducer: Transducer, input_v: float) -> float:
    """Return what the converter shows for a voltage at its input: whole steps, within its range."""
    steps = 1 << transducer.bits
    code = min(max(math.floor(input_v / transducer.reference_v * steps), 0), steps - 1)
    if transducer.output is Unit.COUNTS:
        return float(code)
    shown_v = code * transducer.reference_v / steps
    return shown_v * {Unit.V: 1.0, Unit.MV: 1000.0, Unit.MA: 1000.0 / transducer.shunt_ohm}[transducer.output]
