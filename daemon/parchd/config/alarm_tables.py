"""Tables of alarms: what is changed about a kind, and rules of one's own."""

from typing import Annotated

from pydantic import Field

from parchd.config.fields import Channel, Name, Number, Priorities, TableModel, Text
from parchd.contract import Priority


class KindTable(TableModel):
    """``[alarms.KIND]``"""

    priority: Priorities | None = Field(None, description='how urgent it is: "low", "medium" or "high"')
    on_delay_min: Number | None = Field(None, ge=0, le=10_080, description="minutes it must hold before the alarm")
    off_delay_min: Number | None = Field(None, ge=0, le=10_080, description="minutes it must be over before it clears")
    repeat_h: Number | None = Field(
        None, ge=0, le=8760, description="hours after which one that stays is told again; 0: never"
    )
    out_of_service: Text | None = Field(None, description="why alarms of this kind are not told at all")


class TermTable(TableModel):
    """One condition: an element of ``when`` or ``any``"""

    tension: Name | None = Field(None, description="name of a tensiometer: its tension, kPa")
    zone_tension: Name | None = Field(None, description="name of a zone: the tension that it votes for, kPa")
    rise: Name | None = Field(None, description="name of a tensiometer: how fast it dries, kPa a day")
    zone_rise: Name | None = Field(None, description="name of a zone: how fast it dries, kPa a day")
    channel: Channel | None = Field(
        None, description="any channel: its samples as they come, whatever their flags, in V, mA, kPa, degC or counts"
    )
    above: Number | None = Field(None, description="limit, reached at its value or above")
    below: Number | None = Field(None, description="limit, reached at its value or below")
    deadband: Number | None = Field(None, ge=0, description="it is left at the limit less (for below: more) this")
    finding: str | None = Field(None, description="word of a finding, such as air-leak, that holds")
    of: Name | None = Field(None, description="name of the tensiometer or source that the finding is about")
    silent: Name | None = Field(None, description="name of a tensiometer or source that is silent")
    absent: bool = Field(False, description="true: the finding does not hold, it is not silent")


Terms = Annotated[tuple[TermTable, ...], Field(max_length=20)]


class RuleTable(TableModel):
    """``[rules.NAME]``"""

    when: Terms = Field((), description="conditions that must all hold")
    any: Terms = Field((), description="conditions of which one is enough; instead of when")
    for_min: Number = Field(0.0, ge=0, le=525_600, description="minutes it must hold before the alarm")
    clear_after_min: Number = Field(0.0, ge=0, le=525_600, description="minutes it must be over before it clears")
    priority: Priorities = Field(Priority.LOW, description='how urgent it is: "low", "medium" or "high"')
    say: Text = Field(description="what is the matter, as it stands in the subject of the message")
    respond: Text = Field(description="what to do: an alarm that asks for nothing is none")
