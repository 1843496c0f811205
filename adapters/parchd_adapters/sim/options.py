"""Options of ``sim``."""

from enum import StrEnum
from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from parchd.contract import Options
from parchd_adapters._shared.fields import Channel
from parchd_adapters.sim.soil import SoilName
from parchd_adapters.sim.transducer import Transducer

NEVER: Final = "never"
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]


class Tensiometer(Options):
    """One tensiometer and the soil around its cup."""

    depth_m: Annotated[float, Field(ge=0, le=5)] = 0.3
    height_m: Annotated[float, Field(ge=-5, le=5)] = 0.6
    soil: SoilName = SoilName.LOAM
    start_kpa: Annotated[float, Field(ge=0.5, le=200)] = 15.0
    drying_kpa_per_day: Annotated[float, Field(ge=0, le=100)] = 4.0
    irrigate_at_kpa: Positive | Literal["never"] = NEVER
    irrigation_share: Annotated[float, Field(ge=0, le=1)] = 1.0
    valve: str = ""
    lag_s: NotNegative = 120.0
    noise_kpa: NotNegative = 0.05
    ripple_kpa: NotNegative = 0.3
    air_entry_kpa: Annotated[float, Field(gt=0, le=100)] = 85.0


class FaultKind(StrEnum):
    OPEN = "open"
    """The wire is broken: no voltage, no current."""
    STUCK = "stuck"
    """The value does not change any more."""
    SILENT = "silent"
    """Nothing is sent."""
    AIR_ENTRY = "air-entry"
    """The tube loses its water: the vacuum sinks to nothing, whatever the soil does."""


class Fault(Options):
    """Something that goes wrong at a set time."""

    channel: Channel
    kind: FaultKind
    after_s: NotNegative
    for_s: Positive | None = None


class Watering(Options):
    """An irrigation at a set time."""

    after_s: NotNegative
    valve: str = ""


def _two_depths() -> dict[str, Tensiometer]:
    shallow = Tensiometer(irrigate_at_kpa=45.0, valve="bench")
    deep = Tensiometer(
        depth_m=0.6, height_m=0.9, start_kpa=12.0, drying_kpa_per_day=1.5, irrigation_share=0.5, valve="bench"
    )
    return {"shallow": shallow, "deep": deep}


class SimOptions(Options):
    """What stands under ``[sources.NAME]`` with ``kind = "sim"``."""

    interval_s: Annotated[float, Field(ge=0.1, le=86_400)] = 60.0
    seed: int = 1
    utc_offset_h: Annotated[float, Field(ge=-14, le=14)] = 0.0
    irrigation_h: Annotated[float, Field(gt=0, le=48)] = 3.0
    tensiometers: Annotated[dict[Channel, Tensiometer], Field(min_length=1, default_factory=_two_depths)]
    transducer: Transducer = Transducer()
    supply_channel: Channel | None = None
    irrigations: tuple[Watering, ...] = ()
    faults: tuple[Fault, ...] = ()

    @model_validator(mode="after")
    def _check_names(self) -> "SimOptions":
        if self.supply_channel in self.tensiometers:
            raise ValueError(f"supply_channel: another name than the tensiometer {self.supply_channel!r}")
        for fault in self.faults:
            if fault.channel not in self.tensiometers:
                raise ValueError(f"faults: one of the tensiometers, not {fault.channel!r}")
        valves = {tensiometer.valve for tensiometer in self.tensiometers.values()} | {""}
        for watering in self.irrigations:
            if watering.valve not in valves:
                raise ValueError(f"irrigations: the valve of a tensiometer, not {watering.valve!r}")
        return self
