"""Tables of the ground: site, zones, tensiometers and their calibrations."""

from typing import Annotated, Literal

from pydantic import Field

from parchd.config.calibration_table import CalibrationTable
from parchd.config.fields import Channel, ClockTime, Name, Number, TableModel, Text, TimeZone, Whole
from parchd.physics.atmosphere import ALTITUDE_MAX_M, ALTITUDE_MIN_M
from parchd.physics.limit import GAS_MARGIN_KPA

Limit = Annotated[Number, Field(gt=0, le=1000)]


class SiteTable(TableModel):
    """``[site]``"""

    name: Text = Field(description="name of the farm or bench, as mails show it")
    time_zone: TimeZone = Field(description='time zone of the IANA list, such as "Europe/Lisbon"')
    altitude_m: Number = Field(ge=ALTITUDE_MIN_M, le=ALTITUDE_MAX_M, description="metres above sea level")
    water_c: Number = Field(20.0, ge=0, le=45, description="temperature of the water where none is measured")
    gas_margin_kpa: Number = Field(GAS_MARGIN_KPA, ge=0, le=50, description="range kept free for gas in the water")
    barometer_channel: Channel | None = Field(
        None, description="channel with the pressure of the air at the site in kPa or hPa, not reduced to sea level"
    )
    barometer_u_kpa: Number | None = Field(None, ge=0, le=10, description="standard uncertainty of that barometer")


class TensiometerDefaults(TableModel):
    """``[defaults]`` and ``[zones.NAME.defaults]``: what tensiometers have unless they say otherwise."""

    transducer: str | None = Field(None, description="name of a transducer, as in [transducers.NAME], or a generic one")
    depth_cm: Number | None = Field(None, ge=1, le=1000, description="depth of the cup's centre below the surface")
    height_cm: Number | None = Field(
        None,
        ge=-500,
        le=1500,
        description="height of the transducer above the cup's centre, negative below it",
    )
    tube_length_cm: Number | None = Field(
        None, ge=-500, le=1500, description="length along a sloping tube, instead of height_cm"
    )
    tube_angle_deg: Number | None = Field(
        None, gt=0, le=90, description="slope of that tube against the horizontal, 90 is upright"
    )
    water_cm: Number | None = Field(
        None,
        ge=0,
        le=1500,
        description="height of the water's surface above the cup's centre, upright, where there is air above it",
    )
    height_half_cm: Number | None = Field(
        None, ge=0, le=100, description="how far the height of the water may be off, to either side"
    )
    water_half_c: Number | None = Field(
        None, ge=0, le=40, description="how far the temperature of the water may be off, to either side"
    )
    zeroed_in_water: bool | None = Field(
        None, description="true if the gauge was set to zero with its cup standing in water"
    )
    supply_channel: Channel | None = Field(None, description="channel that measures the transducer's supply")
    temperature_channel: Channel | None = Field(None, description="channel with the temperature of water or soil")
    interval_s: Number | None = Field(None, gt=0, le=604_800, description="expected time between samples, seconds")
    silent_intervals: Number | None = Field(
        None, ge=1, le=1000, description="so many intervals without a sample make a silent sensor"
    )
    fastest_drying_kpa_per_h: Number | None = Field(
        None,
        gt=0,
        le=100_000,
        description="a tension that rises faster is suspect; pots and coarse sand that is nearly dry may need more",
    )


class TensiometerTable(TensiometerDefaults):
    """``[tensiometers.NAME]``, or a row of the table of tensiometers."""

    zone: str | None = Field(None, description="name of the zone it stands in")
    station: Name | None = Field(None, description="name of the spot in the zone")
    channel: Channel | None = Field(None, description="source and channel that deliver its signal, e.g. bus1/a0")
    decides: bool | None = Field(None, description="whether it has a say in irrigation")
    plan_kpa: Limit | None = Field(None, description="tension of this tensiometer at which to plan an irrigation")
    now_kpa: Limit | None = Field(None, description="tension of this tensiometer at which to irrigate")
    calibration: tuple[CalibrationTable, ...] = Field((), description="calibrations, each with its date")


class ZoneTable(TableModel):
    """``[zones.NAME]``"""

    title: Text | None = Field(None, description="how people call the zone")
    crop: Text | None = Field(None, description="what grows there")
    soil: Text | None = Field(None, description="what the soil is")
    plan_kpa: Limit | None = Field(None, description="tension at which to plan an irrigation")
    now_kpa: Limit | None = Field(None, description="tension at which to irrigate")
    deadband_kpa: Limit | None = Field(None, description="an alarm clears at its limit less this")
    on_delay_min: Number = Field(30.0, ge=0, le=10_080, description="minutes a limit must be passed before the alarm")
    off_delay_min: Number = Field(60.0, ge=0, le=10_080, description="minutes it must be wet again before it clears")
    decide: Literal["morning", "any"] = Field(
        "morning", description='which readings decide: "morning" (those of the window) or "any"'
    )
    window: tuple[ClockTime, ClockTime] | None = Field(
        None, description='start and end of the deciding part of the day, such as ["05:00", "08:00"], standard time'
    )
    min_trusted: Whole = Field(1, ge=1, le=1000, description="so many tensiometers must be trusted to raise an alarm")
    vote: Literal["median", "any", "mean of stations"] | Annotated[Whole, Field(ge=1, le=1000)] = Field(
        "median",
        description='how its tensiometers make one tension: "median", "any" (the highest), a number k (k of them must '
        'reach the limit) or "mean of stations"',
    )
    drying_kpa_per_day: Number | None = Field(
        None, gt=0, le=1000, description="an alarm comes when it dries by as much, from morning to morning"
    )
    wet_kpa: Number | None = Field(
        None, ge=-50, le=50, description="an alarm comes when a tensiometer of any depth stays at it or below for wet_h"
    )
    wet_h: Number = Field(48.0, gt=0, le=8760, description="hours of that")
    defaults: TensiometerDefaults = TensiometerDefaults()
