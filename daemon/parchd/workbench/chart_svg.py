"""A chart as an SVG file of its own: black on white, so that it can be printed and copied."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape

from parchd.workbench import svg
from parchd.workbench.chart import Chart, Look, Series, Span, thinned
from parchd.workbench.chart_axis import scale, texts, ticks

WIDTH_MM = 180.0
_LEFT, _RIGHT, _TOP, _HEIGHT = 20.0, 8.0, 16.0, 88.0
_LEGEND, _BELOW, _LINE, _LETTERS = 15.5, 17.0, 4.6, 92
_BOLD_LETTERS = 80
_MOST_POINTS = 600
_Y_TICKS, _X_TICKS = 7, 9

_STYLE = """
.paper { fill: #fff; }
text { font-family: "DejaVu Sans", "Liberation Sans", Arial, sans-serif; font-size: 3.3px; fill: #000; }
.title { font-size: 4.6px; font-weight: bold; }
.verdict { font-weight: bold; }
.n { text-anchor: end; }
.mid { text-anchor: middle; }
.grid { stroke: #bbb; stroke-width: 0.15; }
.axis { stroke: #000; stroke-width: 0.35; }
.level { stroke: #000; stroke-width: 0.3; stroke-dasharray: 1.6 1; }
.halo { stroke: #fff; stroke-width: 1.2; stroke-linejoin: round; paint-order: stroke; }
.line { fill: none; stroke: #000; stroke-width: 0.6; stroke-linejoin: round; }
.fitted { fill: none; stroke: #000; stroke-width: 0.35; stroke-dasharray: 0.4 0.8; stroke-linecap: round; }
.up { fill: #000; stroke: #000; stroke-width: 0.3; }
.down { fill: #fff; stroke: #000; stroke-width: 0.35; }
.left-out, .suspect { fill: none; stroke: #000; stroke-width: 0.4; }
"""


def chart_svg(chart: Chart) -> str:
    """Draw a chart; well-formed XML that names nothing outside of itself."""
    drawing = _Drawing.of(chart)
    notes = _lines(chart.notes)
    first = _TOP + _HEIGHT + _BELOW + (_LINE + 1.5) * any(one.label for one in chart.series)
    height = first + _LINE * len(notes)
    parts = [*drawing.parts(chart), *_notes(notes, first)]
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{height:.1f}mm" '
        f'viewBox="0 0 {WIDTH_MM:g} {height:.1f}" role="img" aria-label="{escape(chart.title)}">'
    )
    return f"{head}\n<style>{_STYLE}</style>\n" + "\n".join(parts) + "\n</svg>\n"


def _lines(notes: Sequence[str]) -> list[tuple[str, str]]:
    """Break notes into lines, each with its class; the first note is the verdict."""
    found: list[tuple[str, str]] = []
    for number, note in enumerate(notes):
        kind, letters = ("", _LETTERS) if number else ("verdict", _BOLD_LETTERS)
        found += [(kind, line) for line in textwrap.wrap(note, letters)]
    return found


def _notes(lines: Sequence[tuple[str, str]], first: float) -> Iterator[str]:
    for number, (kind, line) in enumerate(lines):
        yield svg.text(_LEFT, first + _LINE * number, line, kind)


@dataclass(frozen=True, slots=True)
class _Drawing:
    x: Span
    y: Span
    y_ticks: tuple[float, ...]

    @classmethod
    def of(cls, chart: Chart) -> "_Drawing":
        x, (y, y_ticks) = chart.x_span, scale(chart.y_span, _Y_TICKS)
        return cls(x if x.width else Span(x.low, x.low + 1.0), y, tuple(y_ticks))

    def parts(self, chart: Chart) -> Iterator[str]:
        yield svg.rect(0.0, 0.0, WIDTH_MM, 1000.0, "paper")
        yield svg.text(_LEFT, 9.0, chart.title, "title")
        yield from self._grid(chart)
        for level in chart.levels:
            y = self._y(level.y)
            yield svg.line(_LEFT, y, WIDTH_MM - _RIGHT, y, "level")
        for one in chart.series:
            yield from self._line(one) if one.look.is_line else self._points(one)
        for level in chart.levels:
            yield svg.text(WIDTH_MM - _RIGHT - 1.0, self._y(level.y) - 1.2, level.label, "n halo")
        yield from self._legend(chart)

    def _grid(self, chart: Chart) -> Iterator[str]:
        bottom, right = _TOP + _HEIGHT, WIDTH_MM - _RIGHT
        x_ticks = ticks(self.x, _X_TICKS)
        for value, number in zip(self.y_ticks, texts(self.y_ticks), strict=True):
            yield svg.line(_LEFT, self._y(value), right, self._y(value), "grid")
            yield svg.text(_LEFT - 1.5, self._y(value) + 1.2, number, "n")
        for value, number in zip(x_ticks, texts(x_ticks), strict=True):
            yield svg.line(self._x(value), _TOP, self._x(value), bottom, "grid")
            yield svg.text(self._x(value), bottom + 4.5, number, "mid")
        yield svg.line(_LEFT, _TOP, _LEFT, bottom, "axis")
        yield svg.line(_LEFT, bottom, right, bottom, "axis")
        yield svg.upward(6.0, _TOP + _HEIGHT / 2.0, chart.y_title)
        yield svg.text((_LEFT + right) / 2.0, bottom + 9.5, chart.x_title, "mid")

    def _line(self, series: Series) -> Iterator[str]:
        points = thinned(series.points, _MOST_POINTS)
        if points:
            d = "M" + "L".join(f"{self._x(x):.2f} {self._y(y):.2f}" for x, y in points)
            yield svg.path(d, series.look.value)

    def _points(self, series: Series) -> Iterable[str]:
        return [_mark(series.look, self._x(x), self._y(y)) for x, y in series.points]

    def _legend(self, chart: Chart) -> Iterator[str]:
        x, y = _LEFT + 1.5, _TOP + _HEIGHT + _LEGEND
        for one in chart.series:
            if one.label:
                yield _sample(one.look, x, y)
                yield svg.text(x + 4.5, y + 1.1, one.label)
                x += 10.0 + 1.9 * len(one.label)

    def _x(self, x: float) -> float:
        return _LEFT + (x - self.x.low) / self.x.width * (WIDTH_MM - _LEFT - _RIGHT)

    def _y(self, y: float) -> float:
        return _TOP + (self.y.high - y) / self.y.width * _HEIGHT


def _sample(look: Look, x: float, y: float) -> str:
    """Show in the legend how a series looks."""
    return svg.line(x - 2.0, y, x + 3.0, y, look.value) if look.is_line else _mark(look, x, y)


def _mark(look: Look, x: float, y: float) -> str:
    shapes: dict[Look, str] = {
        Look.UP: f"M{x - 1.3:.2f} {y + 1.0:.2f}h2.6l-1.3 -2.2Z",
        Look.DOWN: f"M{x - 1.3:.2f} {y - 1.0:.2f}h2.6l-1.3 2.2Z",
        Look.LEFT_OUT: f"M{x - 1.1:.2f} {y - 1.1:.2f}l2.2 2.2m0 -2.2l-2.2 2.2",
        Look.SUSPECT: f"M{x - 2.4:.2f} {y:.2f}a2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0 -4.8 0",
    }
    return svg.path(shapes[look], look.value.replace(" ", "-"))
