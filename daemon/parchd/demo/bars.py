"""Bars and curves: numbers drawn in the cells of a terminal."""

from collections.abc import Sequence

from parchd.demo.picture import Point
from parchd.demo.style import Style

LEAST_SPAN_KPA = 6.0
HOUR_MIN = 60.0


def bar(value_kpa: float | None, scale_kpa: float, limits: Sequence[float | None], width: int, style: Style) -> str:
    """Draw a tension from 0 to the end of the scale, with marks at the limits (plan, now).

    A negative tension (free water) has no bar. No value: the empty track with its marks.

    >>> bar(30.0, 60.0, (15.0, 45.0), 12, Style())
    '###:##...|..'
    """
    letters = style.letters
    filled = 0.0 if value_kpa is None else max(0.0, min(1.0, value_kpa / scale_kpa)) * width
    marks = {
        cell_of(limit, scale_kpa, width): mark
        for limit, mark in zip(limits, (letters.plan, letters.now), strict=False)
        if limit is not None
    }
    cells = [_cell(index, filled, marks, style) for index in range(width)]
    return _painted(cells, filled, marks, style)


def cell_of(limit_kpa: float, scale_kpa: float, width: int) -> int:
    """The cell in which a limit lies."""
    return min(width - 1, max(0, int(limit_kpa / scale_kpa * width)))


def ruler(limits: Sequence[float | None], scale_kpa: float, width: int) -> str:
    """Write the limits (plan, now) above their marks: the first ends at its mark, the second begins there.

    >>> ruler((15.0, 45.0), 60.0, 12), ruler((20.0, 25.0), 60.0, 12)
    ('  15     45 ', '   20 25    ')
    """
    line = ""
    for number, limit in enumerate(limits):
        if limit is not None:
            text = f"{limit:.0f}"
            start = cell_of(limit, scale_kpa, width) - (len(text) - 1 if number == 0 else 0)
            line = f"{line + ' ' if line else '':<{max(0, start)}}{text}"
    return f"{line:<{width}}"[:width]


def curve(history: Sequence[Point], width: int, style: Style) -> str:
    """Draw the last hour, the present at the right end; each cell shows the last reading of its part.

    >>> curve([Point(55.0, 10.0), Point(25.0, 13.0), Point(5.0, 16.0)], 6, Style())
    '_  - ^'
    """
    known = [point.tension_kpa for point in history if point.tension_kpa is not None]
    if not known:
        return " " * width
    low_kpa, span_kpa = min(known), max(LEAST_SPAN_KPA, max(known) - min(known))
    cells = [" "] * width
    for point in history:
        index = width - 1 - int(point.age_min / HOUR_MIN * width)
        if 0 <= index < width:
            cells[index] = _step(point.tension_kpa, low_kpa, span_kpa, style)
    return "".join(cells)


def _step(tension_kpa: float | None, low_kpa: float, span_kpa: float, style: Style) -> str:
    if tension_kpa is None:
        return style.letters.gap
    steps = style.letters.steps
    return steps[min(len(steps) - 1, int((tension_kpa - low_kpa) / span_kpa * len(steps)))]


def _cell(index: int, filled: float, marks: dict[int, str], style: Style) -> str:
    blocks, part = style.letters.blocks, filled - index
    if index in marks:
        return marks[index]
    if part <= 0 or int(part * len(blocks)) == 0:
        return style.letters.track
    return blocks[-1] if part >= 1 else blocks[int(part * len(blocks)) - 1]


def _painted(cells: Sequence[str], filled: float, marks: dict[int, str], style: Style) -> str:
    """Paint runs of cells: the filled part by its share of the scale, marks within it reversed, the rest faint."""
    end, share = int(filled + 0.999), filled / len(cells)
    parts, start = [], 0
    for index in [*sorted(marks), len(cells)]:
        parts.append(style.heat("".join(cells[start : min(index, end)]), share))
        parts.append(style.faint("".join(cells[max(start, min(index, end)) : index])))
        if index in marks:
            mark = cells[index]
            parts.append(style.reversed(mark) if index < int(filled) else style.strong(mark))
        start = index + 1
    return "".join(parts)
