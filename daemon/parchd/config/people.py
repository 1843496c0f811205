"""``[people.NAME]`` and ``[escalation]``."""

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from parchd.alarms.kinds import AlarmKind
from parchd.config.fields import ClockTime, Name, Number, Passing, Priorities, TableModel, Text, TimeZone, Whole
from parchd.contract import Priority
from parchd.people.roles import Role
from parchd.words import UNITS, DateStyle, languages

Day = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


def _language(value: str) -> str:
    if value not in languages():
        raise ValueError(f"one of {', '.join(languages())}")
    return value


def _units(value: str) -> str:
    if value not in UNITS:
        raise ValueError(f"one of {', '.join(UNITS)}")
    return value


class ReachTable(TableModel):
    """An element of ``reach``."""

    notifier: str = Field(description="name of a notifier, as in [notifiers.NAME]")
    to: Text | None = Field(
        None, description="the person's address; without it the message goes to all own recipients of the notifier"
    )
    lowest_priority: Priorities = Field(
        Priority.LOW, description='what is less urgent takes other ways: "low", "medium" or "high"'
    )


class AwayTable(TableModel):
    """An element of ``away``."""

    first: date = Field(description="first day away, such as 2026-08-01")
    last: date = Field(description="last day away")


class PersonTable(TableModel):
    """``[people.NAME]``"""

    name: Text | None = Field(None, description="what people call them")
    reach: Annotated[tuple[ReachTable, ...], Field(min_length=1, max_length=20)] = Field(
        description='ways to them, such as [{ notifier = "mail", to = "mara@quillmere.example" }]'
    )
    roles: tuple[Role, ...] = Field(
        tuple(Role),
        description='what they look after: "irrigation", "sensors", "system"; [] is for those who only want to know '
        "what nobody else answers",
    )
    zones: tuple[Name, ...] = Field((), description="zones whose alarms concern them; without it all")
    lowest_priority: Priorities = Field(
        Priority.MEDIUM, description='less urgent alarms stand in the digest only: "low", "medium" or "high"'
    )
    language: Annotated[str, AfterValidator(_language)] = Field("en", description="how they are written to")
    units: Annotated[str, AfterValidator(_units)] = Field("kPa", description=f"unit of tension: {', '.join(UNITS)}")
    date_style: DateStyle = Field(
        DateStyle.DAY_FIRST, description='how times are written: "day-first", "month-first" or "iso"'
    )
    time_zone: TimeZone | None = Field(None, description="time zone of their hours and days, of the IANA list")
    quiet_hours: tuple[ClockTime, ClockTime] | None = Field(
        None, description='hours in which they want no message, such as ["21:00", "06:00"]'
    )
    quiet_lets_pass: Passing = Field(
        Priority.HIGH, description='alarms of at least this priority come in quiet hours too; or "nothing"'
    )
    away: tuple[AwayTable, ...] = Field(
        (), description="days on which they get nothing, such as [{ first = 2026-08-01, last = 2026-08-14 }]"
    )
    deputy: Name | None = Field(None, description="who gets their messages meanwhile: a person")
    digest: Literal["daily", "weekly", "never"] = Field("daily", description='"daily", "weekly" or "never"')
    digest_day: Day = Field("monday", description="day of a weekly digest")
    digest_at: ClockTime | None = Field(None, description="local time of their digest")
    calm_h: Number = Field(
        4.0,
        ge=0,
        le=72,
        description="after a message that is not urgent, further ones are gathered for so long; "
        "0: nothing is ever gathered, as programs want it",
    )
    most_a_day: Whole = Field(
        2, ge=1, le=1000, description="messages on one day that are not urgent, the digest among them"
    )
    digest_takes_h: Number = Field(
        3.0, ge=0, le=72, description="what was gathered waits for a digest that comes within so many hours"
    )


class EscalationTable(TableModel):
    """``[escalation]``"""

    people: Annotated[tuple[Name, ...], Field(min_length=1)] = Field(description="persons, in the order they are told")
    after_min: Whole = Field(
        60, ge=5, le=10_080, description="the next one is told when so long nobody acknowledged an alarm"
    )
    lowest_priority: Priorities = Field(
        Priority.HIGH, description='alarms that this is done for: "low", "medium" or "high"'
    )
    also: tuple[AlarmKind, ...] = Field((), description='kinds that it is done for as well, such as ["silent-source"]')
