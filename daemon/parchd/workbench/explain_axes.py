"""Axes of the picture: tension upwards, local time across."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from parchd.workbench import svg
from parchd.workbench.chart_axis import texts
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_frame import Frame, text_width
from parchd.workbench.explain_ticks import midnights, time_ticks

HEIGHT = 24.0
_TICK_ROOM = 54.0
_DAYS_SHOWN = 60


def tension_axis(frame: Frame) -> Iterator[str]:
    """Numbers and lines of the tension; the unit stands below the topmost."""
    for number, (value, text) in enumerate(zip(frame.ticks, texts(frame.ticks), strict=True)):
        y = frame.y(value)
        yield svg.line(frame.left, y, frame.right, y, "zero" if value == 0.0 else "grid")
        yield svg.text(frame.left - 5.0, y + 4.0, text, "n")
        if number == len(frame.ticks) - 1:
            yield svg.text(frame.left - 5.0, y + 18.0, "kPa", "n soft")
    yield svg.line(frame.left, frame.top, frame.left, frame.bottom, "axis")
    yield svg.line(frame.left, frame.bottom, frame.right, frame.bottom, "axis")


def time_axis(case: Explained, frame: Frame, base: float) -> Iterator[str]:
    """Lines at round local times, and their labels below ``base``."""
    zone = ZoneInfo(case.portrait.time_zone)
    days = midnights(case.start_us, case.end_us, zone)
    for us in days if len(days) <= _DAYS_SHOWN else ():
        yield svg.line(frame.x(us), frame.top, frame.x(us), frame.bottom, "day")
    most = max(3, int((frame.right - frame.left) / _TICK_ROOM))
    for tick in time_ticks(case.start_us, case.end_us, zone, most):
        x, half = frame.x(tick.time_us), text_width(tick.label) / 2.0
        yield svg.line(x, frame.top, x, frame.bottom, "grid")
        yield svg.line(x, base + 1.0, x, base + 5.0, "axis")
        yield svg.text(min(max(x, half), frame.width - half), base + 18.0, tick.label, "mid")
