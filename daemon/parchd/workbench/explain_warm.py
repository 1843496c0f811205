"""Temperature below the field of tension, on the same axis of time."""

from collections.abc import Iterator
from dataclasses import replace

from parchd.workbench import svg
from parchd.workbench.chart import Span
from parchd.workbench.chart_axis import scale, texts
from parchd.workbench.explain_case import Explained, Track, middle_us, pieces
from parchd.workbench.explain_frame import Frame

HEIGHT = 82.0
_ABOVE, _FIELD = 24.0, 48.0


def warm(case: Explained, track: Track, frame: Frame, top: float) -> Iterator[str]:
    """Draw it from ``top`` on, `HEIGHT` high."""
    values = [value for b in track.buckets if b.mean == b.mean for value in (b.low, b.high)]
    span, ticks = scale(Span(min(values, default=0.0), max(values, default=10.0)), 3)
    low = replace(frame, top=top + _ABOVE, bottom=top + _ABOVE + _FIELD, kpa=span, ticks=tuple(ticks))
    yield svg.text(frame.left, top + 15.0, f"{track.label}, \N{DEGREE SIGN}C", "soft")
    for value, text in zip(ticks, texts(ticks), strict=True):
        yield svg.line(low.left, low.y(value), low.right, low.y(value), "axis" if value == 0.0 else "grid")
        yield svg.text(low.left - 5.0, low.y(value) + 4.0, text, "n")
    for piece in pieces(track, case.bucket_us):
        points = [f"{low.x(middle_us(case, n)):.1f} {low.y(track.buckets[n].mean):.1f}" for n in piece]
        yield svg.path("M" + "L".join(points if len(points) > 1 else points * 2), "warm")
