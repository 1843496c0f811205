"""Draw the charts of a message: JSON in, pictures out. A process of its own, so that the daemon stays small.

``python -m parchd_adapters.email.drawing`` reads a notice as JSON and writes one PNG in base64 to a line for each of
its charts. It is drawn twice as wide as a phone shows it: letters of 27 pixels are 12 there.
"""

import base64
import io
import sys
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

import numpy as np
from matplotlib import rcParams
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import blended_transform_factory
from PIL import Image

from parchd.clock import US_PER_S, from_datetime, to_datetime
from parchd.contract import Chart, Line, Notice
from parchd.words import DateStyle, Voice

WIDE_PX, HIGH_PX, LOW_PX = 720, 420, 280
LETTER_PX = 27
_DPI = 100
rcParams["text.parse_math"] = False  # a name with dollar signs is a name
_LETTER_PT = LETTER_PX * 72 / _DPI
_DAY_S = 86_400
_COLOURS = 32
_PAPER, _INK, _FAINT, _RULE = "#fbf8f1", "#26241f", "#6d6a61", "#dcd7ca"
_MAIN, _OTHERS, _LIMIT = "#4f1547", ("#77756d", "#9a978d"), "#a34a14"
_DASHES = ((None, None), (7, 2), (3, 2), (7, 2, 2, 2))
"""Lines for comparison are told apart by their dashes, and by their names at the end."""
_LABELLED = 4
_LONGEST = 14
_LEFT, _RIGHT, _TOP, _BOTTOM = 84, 24, 46, 50


def draw(chart: Chart, voice: Voice) -> bytes:
    """Draw one chart; the same bytes for the same chart, with the same library."""
    high_px = LOW_PX if chart.is_small else HIGH_PX
    figure = Figure(figsize=(WIDE_PX / _DPI, high_px / _DPI), dpi=_DPI, facecolor=_PAPER)
    canvas = FigureCanvasAgg(figure)
    named = [line for line in chart.lines if line.label][:_LABELLED] if len(chart.lines) > 1 else []
    right = _RIGHT + max((_text_px(_short(line.label)) for line in named), default=0) + (12 if named else 0)
    left, bottom = _LEFT / WIDE_PX, _BOTTOM / high_px
    size = (1 - left - right / WIDE_PX, 1 - bottom - _TOP / high_px)
    axes = figure.add_axes((left, bottom, *size), facecolor=_PAPER)
    low, high = _range(chart)
    axes.set_ylim(low, high)
    axes.set_xlim(chart.start_us, max(chart.end_us, chart.start_us + 1))
    _frame(axes)
    figure.text(12 / WIDE_PX, 1 - 36 / high_px, chart.unit, fontsize=_LETTER_PT, color=_FAINT)
    _scales(axes, chart, voice)
    _lines(axes, chart)
    _limits(axes, chart)
    _marks(axes, chart)
    _names(axes, named)
    return _png(canvas)


def _png(canvas: FigureCanvasAgg) -> bytes:
    """A few colours are enough: a third of the bytes."""
    canvas.draw()  # type: ignore[no-untyped-call]  # matplotlib types most of itself
    pixels = np.asarray(canvas.buffer_rgba())  # type: ignore[no-untyped-call]  # as above
    picture = Image.fromarray(pixels).convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE)
    content = io.BytesIO()
    picture.save(content, format="png", optimize=True)
    return content.getvalue()


def _range(chart: Chart) -> tuple[float, float]:
    """From zero or below to a little above the highest value or limit."""
    values = [value for line in chart.lines for value in line.values if value is not None]
    low, high = min([0.0, *values]), max([1e-6, *values, *(limit.value for limit in chart.limits)])
    return low - (0.04 * (high - low) if low < 0.0 else 0.0), high + 0.1 * (high - low)


def _frame(axes: Axes) -> None:
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set_color(_FAINT)
    axes.tick_params(length=0, labelsize=_LETTER_PT, labelcolor=_INK, pad=6)
    axes.grid(axis="y", color=_RULE, linewidth=1.5)
    axes.set_axisbelow(True)


def _scales(axes: Axes, chart: Chart, voice: Voice) -> None:
    """Numbers and unit at the left, days below; as many as there is room for."""
    axes.yaxis.set_major_locator(MaxNLocator(3 if chart.is_small else 5, steps=[1, 2, 5, 10]))
    axes.yaxis.set_major_formatter(lambda value, _: voice.short(value + 0.0).replace("-", "\N{MINUS SIGN}"))
    midnights = _midnights(chart, voice)
    for time_us in midnights:
        axes.axvline(time_us, color=_RULE, linewidth=1.5, zorder=0.5)
    shown = with_room(midnights, chart, round(axes.bbox.width))
    axes.set_xticks(shown, [_day(time_us, voice) for time_us in shown], ha="left")


def with_room(midnights: Sequence[int], chart: Chart, wide_px: int) -> list[int]:
    """Those below which a day can be written, so that none touches the next or runs out of the picture."""
    every = 1 + len(midnights) * _text_px(" Mon 25 ") // wide_px
    last_us = chart.start_us + (1 - _text_px("Mon 25") / wide_px) * (chart.end_us - chart.start_us)
    return [time_us for time_us in midnights[::every] if time_us <= last_us]


def _midnights(chart: Chart, voice: Voice) -> list[int]:
    """Every local midnight within the chart."""
    zone = ZoneInfo(voice.time_zone)
    day = to_datetime(chart.start_us).astimezone(zone).date()
    days = (chart.end_us - chart.start_us) // (_DAY_S * US_PER_S) + 2
    times = (from_datetime(datetime.combine(day + timedelta(n), datetime.min.time(), zone)) for n in range(1, days + 1))
    return [time_us for time_us in times if time_us < chart.end_us]


def _day(time_us: int, voice: Voice) -> str:
    return voice.day(time_us) if voice.date_style is DateStyle.ISO else voice.weekday(time_us)


def _lines(axes: Axes, chart: Chart) -> None:
    others = [line for line in chart.lines if not line.is_main]
    for number, line in enumerate(others):
        look = {"color": _OTHERS[number % 2], "linewidth": 2.5, "zorder": 2}
        dashes = _DASHES[number % len(_DASHES)]
        _draw(axes, chart, line, look | ({"dashes": dashes} if dashes[0] is not None else {}))
    for line in chart.lines:
        if line.is_main:
            _draw(axes, chart, line, {"color": _MAIN, "linewidth": 4.5, "zorder": 3})


def _draw(axes: Axes, chart: Chart, line: Line, look: dict[str, object]) -> None:
    """Draw what is known; a lone value is a dot."""
    numbered = enumerate(line.values)
    for known, run in groupby(numbered, key=lambda item: item[1] is not None):
        if known:
            points = [(chart.start_us + n * chart.step_us, value) for n, value in run]
            times, values = zip(*points, strict=True)
            dot = {"marker": "o", "markersize": 5} if len(points) == 1 else {}
            axes.plot(times, values, solid_capstyle="round", **look, **dot)  # type: ignore[arg-type]  # looks are keywords


def _limits(axes: Axes, chart: Chart) -> None:
    """Dashed lines with their words above them, at the left, where the days begin."""
    for limit in chart.limits:
        axes.axhline(limit.value, color=_LIMIT, linewidth=3, dashes=(4, 2.5), zorder=2.5)
        place = blended_transform_factory(axes.transAxes, axes.transData)
        axes.annotate(
            limit.label, (0.012, limit.value), xycoords=place, xytext=(0, 3), textcoords="offset points", va="bottom",
            fontsize=_LETTER_PT, color=_LIMIT, zorder=4,
            bbox={"facecolor": _PAPER, "edgecolor": "none", "pad": 0.5, "alpha": 0.75},
        )  # fmt: skip


def _marks(axes: Axes, chart: Chart) -> None:
    """Dotted lines with their words at the top, on the side where there is room."""
    place = blended_transform_factory(axes.transData, axes.transAxes)
    for mark in chart.marks:
        if not chart.start_us <= mark.time_us <= chart.end_us:
            continue
        axes.axvline(mark.time_us, color=_INK, linewidth=2.5, linestyle=(0, (1, 2)), zorder=2.2)
        late = mark.time_us > (chart.start_us + chart.end_us) / 2
        label = f"{mark.label} " if late else f" {mark.label}"
        axes.text(
            mark.time_us, 1.03, label, transform=place, ha="right" if late else "left", fontsize=_LETTER_PT, color=_INK
        )


def _names(axes: Axes, lines: Sequence[Line]) -> None:
    """Names at the ends of the lines, pushed apart where they would lie upon each other."""
    low, high = axes.get_ylim()
    apart = 1.15 * LETTER_PX * (high - low) / (HIGH_PX - _TOP - _BOTTOM)
    known = [(last, line) for line in lines if (last := _last(line)) is not None]
    ends = sorted(known, key=lambda end: end[0])
    at = low
    for number, (value, line) in enumerate(ends):
        at = max(value, at + apart if number else low + apart / 2)
        at = min(at, high - apart * (len(ends) - number - 0.5))
        color = _MAIN if line.is_main else _FAINT
        weight = "bold" if line.is_main else "normal"
        place = blended_transform_factory(axes.transAxes, axes.transData)
        axes.text(
            1.015,
            at,
            _short(line.label),
            transform=place,
            va="center",
            fontsize=_LETTER_PT,
            color=color,
            fontweight=weight,
        )


def _last(line: Line) -> float | None:
    return next((value for value in reversed(line.values) if value is not None), None)


def _short(name: str) -> str:
    """As much of a name as there is room for."""
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}\N{HORIZONTAL ELLIPSIS}"


def _text_px(text: str) -> int:
    """About how wide a text becomes."""
    return round(0.62 * LETTER_PX * len(text))


def main() -> None:
    notice = Notice.from_json(sys.stdin.read())
    for chart in notice.charts:
        print(base64.b64encode(draw(chart, notice.voice)).decode(), flush=True)


if __name__ == "__main__":
    main()
