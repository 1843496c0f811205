"""Types of single keys: names, numbers, times, and how they are checked."""

import difflib
import math
import re
from datetime import time
from typing import Annotated, Any
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from parchd.contract import Priority

NAME = re.compile(r"[a-z0-9](?:[a-z0-9-]|_(?!_)){0,47}")
CHANNEL = re.compile(r"[a-z0-9][a-z0-9_-]{0,47}/[a-zA-Z0-9._-]{1,64}")
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)(?::00)?")


class TableModel(BaseModel):
    """Base of every table: unknown keys are errors, values do not change."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _name(value: str) -> str:
    if not NAME.fullmatch(value):
        raise ValueError("a name of small letters, digits, - and single _, at most 48 of them, such as north-1")
    return value


def _channel(value: str) -> str:
    if not CHANNEL.fullmatch(value):
        raise ValueError("a source and its channel with a slash between, such as bus1/a0")
    return value


def _text(value: str) -> str:
    if not value.strip() or len(value) > 120 or any(ord(c) < 32 or ord(c) == 127 for c in value):
        raise ValueError("one line of text, 1 to 120 characters")
    return value.strip()


def _number(value: Any) -> Any:
    if isinstance(value, bool):
        raise ValueError("a number")  # noqa: TRY004 - pydantic turns a ValueError into a message, a TypeError into a crash
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a number that is finite")
    return value


def _clock_time(value: Any) -> Any:
    if isinstance(value, time) and value.tzinfo is None:
        return value.replace(second=0, microsecond=0)
    match = _TIME.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise ValueError('a time of day such as "06:30"')
    return time(int(match[1]), int(match[2]))


def _priority(value: Any) -> Any:
    words = {priority.word: priority for priority in Priority}
    if isinstance(value, Priority):
        return value
    if not isinstance(value, str) or value not in words:
        raise ValueError(f"one of {', '.join(words)}")
    return words[value]


def _passing(value: Any) -> Any:
    return None if value == "nothing" else value


def _time_zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (KeyError, ValueError, OSError):
        near = difflib.get_close_matches(value, available_timezones(), 1) or ["Europe/Lisbon"]
        raise ValueError(f'a time zone of the IANA list, such as "{near[0]}"') from None
    return value


Name = Annotated[str, AfterValidator(_name)]
"""What people call a zone, a tensiometer, a source: it becomes part of files, topics and variables."""

Channel = Annotated[str, AfterValidator(_channel)]
Text = Annotated[str, AfterValidator(_text)]
Number = Annotated[float, BeforeValidator(_number), Field(allow_inf_nan=False)]
Whole = Annotated[int, BeforeValidator(_number)]
ClockTime = Annotated[time, BeforeValidator(_clock_time)]
TimeZone = Annotated[str, AfterValidator(_time_zone)]
Priorities = Annotated[Priority, BeforeValidator(_priority)]
Passing = Annotated[Priorities | None, BeforeValidator(_passing)]
