"""Curves in time."""

from collections.abc import Sequence

from parchd.workbench.chart import Chart, Level, Look, Point, Series, Span

_SECONDS = (10.0, 20.0, 30.0, 60.0, 120.0, 180.0)
_MINUTES = (5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0, 360.0, 480.0, 720.0, 1440.0)
_ROOM = 1.08


def time_chart(
    title: str,
    y_title: str,
    y: Span,
    points: Sequence[Point],
    levels: Sequence[Level],
    fitted: Sequence[Point] = (),
) -> Chart:
    """Draw values against time, in seconds or minutes; the axis grows with the curve.

    Args:
        points, fitted: seconds and kPa.
    """
    last_s = max((t for t, _ in points), default=0.0)
    unit_s, end = _axis(last_s)
    series = [Series(Look.LINE, _scaled(points, unit_s))]
    if fitted:
        series = [
            Series(Look.LINE, _scaled(points, unit_s), "measured"),
            Series(Look.FITTED, _scaled(fitted, unit_s), "fitted exponential"),
        ]
    return Chart(title, "s" if unit_s == 1.0 else "min", y_title, Span(0.0, end), y, tuple(series), tuple(levels))


def _axis(last_s: float) -> tuple[float, float]:
    """Give the unit in seconds and the end of the axis.

    >>> _axis(4.0), _axis(170.0), _axis(1000.0)
    ((1.0, 10.0), (60.0, 5.0), (60.0, 20.0))
    """
    wanted_s = last_s * _ROOM
    if wanted_s <= _SECONDS[-1]:
        return 1.0, next(end for end in _SECONDS if end >= wanted_s)
    return 60.0, next((end for end in _MINUTES if end * 60.0 >= wanted_s), wanted_s / 60.0)


def _scaled(points: Sequence[Point], unit_s: float) -> tuple[Point, ...]:
    return tuple((t / unit_s, y) for t, y in points)
