"""Tables of calibrations."""

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from parchd.config.fields import Name, Number, TableModel, Text, Whole

_FIRST, _LAST = 1990, 2199


def _moment(value: Any) -> Any:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value) if len(value) > len("2026-03-01") else date.fromisoformat(value)
        except ValueError:
            value = None
    if not isinstance(value, date):
        raise ValueError("a date such as 2026-03-01")  # noqa: TRY004 - pydantic turns a ValueError into a message
    if not _FIRST <= value.year <= _LAST:
        raise ValueError(f"{_FIRST}-01-01 or more" if value.year < _FIRST else f"{_LAST}-12-31 or less")
    return value


Moment = Annotated[date | datetime, BeforeValidator(_moment)]
"""A date, or a date and time: local unless it has an offset."""


class CalibrationTable(TableModel):
    """``[[tensiometers.NAME.calibration]]``"""

    valid_from: Moment = Field(
        description="date from which it holds, such as 2026-03-01, or local time, 2026-03-01T14:30:00"
    )
    points: tuple[tuple[Number, Number], ...] = Field(
        min_length=1, max_length=1000, description="pairs of signal and vacuum in kPa, such as [[0.5, 0], [3.7, 80]]"
    )
    check: Literal["zero", "span"] | None = Field(
        None, description='"zero" (one point) or "span" (two): corrects the calibration before it, instead of a new one'
    )
    degree: Literal[1, 2] = Field(1, description="1 for a line, 2 for a curve")
    runs: tuple[Literal["up", "down"], ...] = Field(
        (), max_length=1000, description='of each point, "up" while the vacuum grew, "down" while it shrank'
    )
    left_out: tuple[Whole, ...] = Field(
        (), max_length=1000, description="numbers of points, from 1, that are kept on record but not used"
    )
    supply_v: Number | None = Field(None, gt=0, le=100, description="supply while it was calibrated (ratiometric)")
    air_kpa: Number | None = Field(
        None, ge=30, le=115, description="pressure of the air while it was calibrated (absolute and sealed transducers)"
    )
    reference_u_kpa: Number = Field(
        0.0, ge=0, le=20, description="standard uncertainty of the gauge or water column it was calibrated against"
    )
    scatter_kpa: Number | None = Field(
        None, ge=0, le=20, description="standard deviation of single readings, where known: then few points do"
    )
    zero_kpa_per_k: Number = Field(0.0, ge=-5, le=5, description="what its zero moves by for one kelvin warmer")
    span_per_k: Number = Field(0.0, gt=-0.01, lt=0.01, description="part of its span that it gains for one kelvin")
    temperature_c: Number = Field(20.0, ge=-10, le=60, description="temperature of the transducer while calibrated")
    drifts: bool = Field(False, description="true if the correction moves evenly on to that of the next calibration")
    by: Text | None = Field(None, description="who did it")
    note: Text | None = Field(None, description="how it was done")


class CalibrationFile(CalibrationTable):
    """A file of its own in the calibration folder."""

    tensiometer: Name = Field(description="name of the tensiometer it belongs to")
