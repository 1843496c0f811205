"""A chart in the cells of a terminal: braille dots where it has them, plain letters where not."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from parchd.workbench.chart import Chart, Look, Point, Series, Span, thinned
from parchd.workbench.chart_axis import scale, texts, ticks

LEAST_COLUMNS, LEAST_ROWS = 40, 6
_MARKS = {Look.UP: "^", Look.DOWN: "v", Look.LEFT_OUT: "x", Look.SUSPECT: "!"}
_ROWS_PER_TICK, _COLUMNS_PER_TICK = 3, 12
_MOST_POINTS = 400
_BRAILLE = 0x2800
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


@dataclass(frozen=True, slots=True)
class Letters:
    """What a chart is made of.

    Args:
        dots: dots of one cell across and down.
        side, corner, floor: of the axes.
        tick: on the side where a number stands.
        level: of lines to compare with.
    """

    dots: tuple[int, int]
    side: str
    tick: str
    corner: str
    floor: str
    mark: str
    level: str


BRAILLE = Letters((2, 4), "│", "┤", "└", "─", "┬", "╌")
ASCII = Letters((1, 1), "|", "+", "+", "-", "+", "-")


def chart_text(chart: Chart, columns: int, rows: int, letters: Letters) -> list[str]:
    """Draw a chart.

    Args:
        columns: no line is wider; at least `LEAST_COLUMNS`.
        rows: of the field between the axes; at least `LEAST_ROWS`. Three lines come on top: a heading, the floor with
            its numbers; and one more with the signs where points need explaining.
    """
    field_of = _Field.of(chart, max(LEAST_COLUMNS, columns), max(LEAST_ROWS, rows), letters)
    lines = [_heading(chart, max(LEAST_COLUMNS, columns)), *field_of.lines(chart)]
    signs = [f"{_MARKS[one.look]} {one.label}" for one in chart.series if one.look in _MARKS and one.label]
    return [*lines, *(["  ".join(signs)[: max(LEAST_COLUMNS, columns)]] if signs else [])]


def _heading(chart: Chart, columns: int) -> str:
    """Name the vertical axis on the left and the chart on the right, if both fit."""
    room = columns - len(chart.y_title) - 2
    return chart.y_title[:columns] + (f"  {chart.title:>{room}}" if len(chart.title) <= room else "")


@dataclass(slots=True)
class _Field:
    letters: Letters
    x: Span
    y: Span
    y_ticks: list[float]
    x_marks: list[tuple[float, str]]
    gutter: int
    width: int
    height: int
    cells: dict[tuple[int, int], str] = field(default_factory=dict)

    @classmethod
    def of(cls, chart: Chart, columns: int, rows: int, letters: Letters) -> "_Field":
        y, y_ticks = scale(chart.y_span, rows // _ROWS_PER_TICK + 1)
        gutter = max(map(len, texts(y_ticks))) + 1
        width = columns - gutter - 1
        x = chart.x_span if chart.x_span.width else Span(chart.x_span.low, chart.x_span.low + 1.0)
        numbers = ticks(x, width // _COLUMNS_PER_TICK + 1)
        marks = list(chart.x_marks) or list(zip(numbers, texts(numbers), strict=True))
        return cls(letters, x, y, y_ticks, marks, gutter, width, rows)

    def lines(self, chart: Chart) -> Iterator[str]:
        for level in chart.levels:
            self._draw_level(level.y, level.label)
        for one in chart.series:
            self._draw_line(one) if one.look.is_line else self._draw_points(one)
        marks = dict(zip(map(self._row, self.y_ticks), texts(self.y_ticks), strict=True))
        for row in range(self.height):
            side = self.letters.tick if row in marks else self.letters.side
            cells = "".join(self.cells.get((column, row), " ") for column in range(self.width))
            yield f"{marks.get(row, ''):>{self.gutter - 1}} {side}{cells}".rstrip()
        yield from self._floor(chart.x_title)

    def _floor(self, title: str) -> Iterator[str]:
        at = [self._column(x) for x, _ in self.x_marks]
        floor = "".join(self.letters.mark if column in at else self.letters.floor for column in range(self.width))
        yield " " * self.gutter + self.letters.corner + floor
        line, end = " " * (self.gutter + 1 + self.width), self.gutter + 1 + self.width
        room = end - len(title) - 1
        for column, (_, number) in zip(at, self.x_marks, strict=True):
            start = max(0, self.gutter + 1 + column - len(number) // 2)
            if start + len(number) <= room and not line[max(0, start - 1) : start + len(number)].strip():
                line = line[:start] + number + line[start + len(number) :]
        yield line[:room] + " " + title

    def _draw_level(self, y: float, label: str) -> None:
        row = self._row(y)
        for column in range(self.width):
            self.cells[column, row] = self.letters.level
        for offset, letter in enumerate(f" {label} "[-self.width :], self.width - min(self.width, len(label) + 2)):
            self.cells[offset, row] = letter

    def _draw_points(self, series: Series) -> None:
        for x, y in series.points:
            self.cells[self._column(x), self._row(y)] = _MARKS[series.look]

    def _draw_line(self, series: Series) -> None:
        across, down = self.letters.dots
        dots = [self._dot(point) for point in thinned(series.points, _MOST_POINTS)]
        lit: dict[tuple[int, int], int] = {}
        for x, y in {*dots, *(dot for pair in pairwise(dots) for dot in _between(*pair))}:
            bit = _DOTS[y % down][x % across]
            lit[x // across, y // down] = lit.get((x // across, y // down), 0) | bit
        plain = "*" if series.look is Look.LINE else "."
        for cell, bits in lit.items():
            self.cells[cell] = chr(_BRAILLE + bits) if across > 1 else plain

    def _dot(self, point: Point) -> tuple[int, int]:
        across, down = self.letters.dots
        columns, rows = self.width * across, self.height * down
        x, y = (point[0] - self.x.low) / self.x.width, (self.y.high - point[1]) / self.y.width
        return _within(round(x * (columns - 1)), columns), _within(round(y * (rows - 1)), rows)

    def _column(self, x: float) -> int:
        return self._dot((x, self.y.low))[0] // self.letters.dots[0]

    def _row(self, y: float) -> int:
        return self._dot((self.x.low, y))[1] // self.letters.dots[1]


def _within(position: int, count: int) -> int:
    return min(count - 1, max(0, position))


def _between(start: tuple[int, int], end: tuple[int, int]) -> Iterable[tuple[int, int]]:
    """Give the dots of a straight line."""
    (x1, y1), (x2, y2) = start, end
    steps = max(abs(x2 - x1), abs(y2 - y1))
    return [(round(x1 + (x2 - x1) * n / steps), round(y1 + (y2 - y1) * n / steps)) for n in range(1, steps)]
