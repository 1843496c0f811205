"""What the tables of all kinds of transducers have in common."""

from dataclasses import fields
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field

from parchd.config.converters import AdcTable
from parchd.config.fields import Channel, Number, TableModel, Whole
from parchd.physics.reference import Reference
from parchd.physics.transducers import Transducer

Pressure = Annotated[Number, Field(ge=-1000, le=1000)]
Error = Annotated[Number, Field(ge=0, le=100)]


class TransducerTable(TableModel):
    """Keys of ``[transducers.NAME]`` of every kind."""

    makes: ClassVar[type[Any]]
    """What it is built into: each argument of that class is a key of the table."""

    like: str | None = Field(
        None, description="a generic transducer that this one is like, instead of kind; other keys change it"
    )
    reference: Literal["gauge", "absolute", "sealed"] = Field(
        "gauge",
        description='what it measures against: "gauge" (the air around it), "absolute" (a vacuum) or "sealed" (air '
        "sealed into it)",
    )
    sealed_at_kpa: Number | None = Field(None, ge=50, le=150, description="pressure of the air sealed into it")
    accuracy_kpa: Error | None = Field(
        None, description="total error that the data sheet allows, to either side; a calibration takes its place"
    )
    drift_kpa_per_year: Error | None = Field(
        None, description="how far its zero may move in a year after a calibration, to either side"
    )
    temperature_effect_kpa: Error | None = Field(
        None, description="what the temperature may do to it that is not corrected for, to either side"
    )
    readings_averaged: Whole = Field(1, ge=1, le=100_000, description="conversions averaged into one sample")

    def build(self) -> Transducer:
        """Build it.

        Raises:
            ValueError: it cannot be.
        """
        given = {one.name: getattr(self, one.name) for one in fields(self.makes) if one.init}
        built: Transducer = self.makes(**given | {"reference": Reference(self.reference)})
        return built

    @property
    def converter(self) -> AdcTable | None:
        """The converter that its voltage goes through, if samples arrive as counts."""
        return getattr(self, "adc", None)

    @property
    def measured_supply(self) -> Channel | None:
        """The channel that measures its supply."""
        return getattr(self, "supply_channel", None)

    @property
    def ends_kpa(self) -> tuple[float, float] | None:
        """Pressures at the ends of its range, against its own reference; ``None``: not known."""
        return None

    @property
    def ends_v(self) -> tuple[float, float] | None:
        """Lowest and highest voltage within its range; ``None``: there is no voltage."""
        return None

    @property
    def last_key(self) -> str:
        """The key that holds the second of `ends_kpa`."""
        return "high_kpa"
