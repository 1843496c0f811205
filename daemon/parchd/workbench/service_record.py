"""What a service leaves behind: the instrument as it stood, and a picture of its days before."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from parchd.clock import US_PER_S, from_datetime
from parchd.contract import StoredReading
from parchd.pipeline.setup import TensiometerSetup
from parchd.store.services import ServiceRecord
from parchd.workbench.chart import Chart, Level, Look, Point, Series, Span
from parchd.workbench.records import RecordValue

DAYS_BEFORE = 7
HOUR_US = 3600 * US_PER_S
_LEAST_KPA = Span(-5.0, 30.0)


def service_content(setup: TensiometerSetup, record: ServiceRecord, done: datetime) -> dict[str, RecordValue]:
    """Put together what the file says: place, depth and heights as configured, and what was done."""
    content: dict[str, RecordValue] = {
        "tensiometer": record.tensiometer,
        "zone": setup.place.zone,
        "station": setup.place.station,
        "depth_cm": round(setup.place.depth_m * 100, 1),
        "height_cm": round(setup.height_m * 100, 1),
        "usable_limit_kpa": round(setup.usable_limit_kpa, 1),
        "work": record.work,
        "finished": done,
        "marked_until_h": round((record.end_us - from_datetime(done)) / HOUR_US, 2),
    }
    for key, metres in (("left_cm", record.left_m), ("found_cm", record.found_m)):
        content |= {} if metres is None else {key: round(metres * 100, 1)}
    return content | {key: text for key, text in (("by", record.by), ("note", record.note)) if text}


def service_chart(
    setup: TensiometerSetup, record: ServiceRecord, rows: Iterable[StoredReading], done: datetime
) -> Chart:
    """Draw the tension of the days before; 0 is when the work was finished. Without readings the chart says so."""
    points = [((r.time_us - from_datetime(done)) / HOUR_US, r.tension_kpa) for r in rows if r.tension_kpa is not None]
    notes = [] if points else [f"There are no readings of the {DAYS_BEFORE} days before."]
    return Chart(
        title=f"{record.tensiometer}: {record.work}, {done:%d %b %Y %H:%M}",
        x_title="hours before the work was finished",
        y_title="tension at the cup, kPa",
        x=Span(-24.0 * DAYS_BEFORE, 0.0),
        y=_LEAST_KPA.holding([y for _, y in points]),
        series=_series(points),
        levels=(Level(0.0, "saturation"), Level(setup.usable_limit_kpa, "usable limit")),
        notes=tuple(notes),
    )


def _series(points: Sequence[Point]) -> tuple[Series, ...]:
    return (Series(Look.LINE, tuple(points), "tension"),) if points else ()
