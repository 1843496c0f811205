"""The root of the configuration and the tables of the daemon itself."""

from datetime import time
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field
from pydantic_settings import BaseSettings, SettingsConfigDict

from parchd.config.alarm_tables import KindTable, RuleTable
from parchd.config.electrics import AnyTransducer
from parchd.config.fields import ClockTime, Name, Number, Passing, Priorities, TableModel, Whole
from parchd.config.ground import SiteTable, TensiometerDefaults, TensiometerTable, ZoneTable
from parchd.config.people import EscalationTable, PersonTable
from parchd.config.web_table import WebTable
from parchd.contract import Priority


def _digest_time(value: Any) -> Any:
    return None if value == "never" else value


class StoreTable(TableModel):
    """``[store]``"""

    path: Path | None = Field(None, description="file of the journal")
    keep_days: Whole = Field(1100, ge=0, le=36_500, description="days that readings are kept; 0 for ever")
    commit_ms: Whole = Field(500, ge=10, le=1000, description="samples are gathered so long before they are committed")
    least_free_percent: Number = Field(
        5.0,
        ge=0,
        le=90,
        description="an alarm comes when less of the journal's disk is free, and less than least_free_mb",
    )
    least_free_mb: Number = Field(1000.0, ge=0, le=100_000, description="the same in megabytes; 0: no such alarm")
    reserve_mb: Number = Field(
        8.0, ge=0, le=1000, description="kept free on it for the message that it is full; 0: none. A file beside it"
    )


class ScheduleTable(TableModel):
    """``[schedule]``"""

    digest_at: Annotated[ClockTime | None, BeforeValidator(_digest_time)] = Field(
        time(6, 30), description='local time of the daily digest such as "06:30", or "never"'
    )


class PolicyTable(TableModel):
    """Keys that every ``[notifiers.NAME]`` has besides those of its kind."""

    lowest_priority: Priorities = Field(
        Priority.LOW, description='alarms below it are not sent: "low", "medium" or "high"'
    )
    max_per_hour: Whole = Field(6, ge=1, le=1000, description="messages to one recipient within an hour")
    quiet_hours: tuple[ClockTime, ClockTime] | None = Field(
        None, description='start and end of the quiet hours, such as ["21:00", "06:00"], local time'
    )
    quiet_lets_pass: Passing = Field(
        Priority.HIGH, description='alarms of at least this priority are sent in quiet hours too; or "nothing"'
    )
    digest: bool = Field(True, description="whether it sends the daily digest")
    transitions: bool = Field(
        False,
        description="for programs: true sends every step in the life of every alarm as it comes, and nothing else",
    )


AdapterTable = dict[str, Any]


class Settings(BaseSettings):
    """All tables. Where they come from: `parchd.config.origins`."""

    model_config = SettingsConfigDict(
        extra="forbid",
        frozen=True,
        env_prefix="PARCHD_",
        env_nested_delimiter="__",
        hide_input_in_errors=True,
    )

    site: SiteTable = Field(description="table [site] with name, time_zone and altitude_m")
    store: StoreTable = StoreTable()
    schedule: ScheduleTable = ScheduleTable()
    web: WebTable | None = None
    transducers: dict[Name, AnyTransducer] = {}
    defaults: TensiometerDefaults = TensiometerDefaults()
    zones: dict[Name, ZoneTable] = {}
    alarms: dict[Name, KindTable] = {}
    people: dict[Name, PersonTable] = {}
    escalation: EscalationTable | None = None
    rules: dict[Name, RuleTable] = {}
    tensiometers: dict[Name, TensiometerTable] = {}
    tensiometers_table: Path | None = Field(None, description="CSV file with a tensiometer in each row")
    calibration_dir: Path | None = Field(None, description="folder with a calibration in each TOML file")
    include: Path | None = Field(None, description="folder of TOML files that belong to this one")
    sources: dict[Name, AdapterTable] = Field({}, repr=False)
    sinks: dict[Name, AdapterTable] = Field({}, repr=False)
    notifiers: dict[Name, AdapterTable] = Field({}, repr=False)
