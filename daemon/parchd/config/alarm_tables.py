"""Tables of alarms: what is changed about a kind."""

from pydantic import Field

from parchd.config.fields import Number, Priorities, TableModel, Text


class KindTable(TableModel):
    """``[alarms.KIND]``"""

    priority: Priorities | None = Field(None, description='how urgent it is: "low", "medium" or "high"')
    on_delay_min: Number | None = Field(None, ge=0, le=10_080, description="minutes it must hold before the alarm")
    off_delay_min: Number | None = Field(None, ge=0, le=10_080, description="minutes it must be over before it clears")
    repeat_h: Number | None = Field(
        None, ge=0, le=8760, description="hours after which one that stays is told again; 0: never"
    )
    out_of_service: Text | None = Field(None, description="why alarms of this kind are not told at all")
