"""The plain text of a message: at most 78 columns, for a terminal as for a screen reader."""

import textwrap
from collections.abc import Iterator, Sequence
from itertools import zip_longest

from parchd.contract import Notice, Table
from parchd_adapters.email.words import badge, one_line, origin, title

COLUMNS = 78
_GAP = "  "


def plain_text(notice: Notice) -> str:
    """Write the whole message; lines end with ``\\n``."""
    blocks = [
        [badge(notice.kind, notice.priority).word.upper(), *_heading(title(notice), "=")],
        _wrapped(one_line(notice.summary)),
        grid([(one_line(label), one_line(value)) for label, value in notice.facts]),
        _advice(notice.advice),
        *(_table(table) for table in notice.tables),
        ["-- ", *(line for text in origin(notice) for line in _wrapped(text))],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def grid(rows: Sequence[Sequence[str]], columns: int = COLUMNS) -> list[str]:
    """Align cells; the widest columns give way and wrap where a row is too long.

    >>> grid([("tension", "62 kPa"), ("depth", "0.30 m")])
    ['tension  62 kPa', 'depth    0.30 m']
    """
    widths = _widths(rows, columns)
    return [line for row in rows for line in _grid_row(row, widths)]


def _grid_row(row: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    cells = [_wrapped(cell, width) for cell, width in zip(row, widths, strict=True)]
    for parts in zip_longest(*cells, fillvalue=""):
        yield _GAP.join(part.ljust(width) for part, width in zip(parts, widths, strict=True)).rstrip()


def _widths(rows: Sequence[Sequence[str]], columns: int) -> list[int]:
    widths = [max(1, *map(len, column)) for column in zip(*rows, strict=True)]
    room = columns - len(_GAP) * (len(widths) - 1)
    for _ in range(sum(widths) - room):
        widest = max(range(len(widths)), key=widths.__getitem__)
        widths[widest] = max(1, widths[widest] - 1)
    return widths


def _table(table: Table) -> list[str]:
    heading = _heading(one_line(table.title), "-")
    rows = [tuple(map(one_line, row)) for row in (table.columns, *table.rows)]
    lines = grid(rows)
    head = len(list(_grid_row(rows[0], _widths(rows, COLUMNS))))
    rule = "-" * max(map(len, lines), default=1)
    return [*heading, *lines[:head], rule, *lines[head:]]


def _advice(sentences: Sequence[str]) -> list[str]:
    lines = [
        line
        for sentence in sentences
        for line in textwrap.wrap(one_line(sentence), COLUMNS, initial_indent="- ", subsequent_indent="  ")
    ]
    return [*_heading("What to do", "-"), *lines] if lines else []


def _heading(text: str, rule: str) -> list[str]:
    lines = _wrapped(text)
    return [*lines, rule * max(map(len, lines))] if lines else []


def _wrapped(text: str, width: int = COLUMNS) -> list[str]:
    return textwrap.wrap(text, width)
