"""The plain text of a message: at most 78 columns (addresses stay whole), for a terminal as for a screen reader."""

import textwrap
from collections.abc import Iterator, Sequence
from itertools import zip_longest

from parchd.contract import AnswerLink, Chart, Notice, NoticeKind, Table
from parchd.words import Voice
from parchd_adapters.email.sparks import spark_line
from parchd_adapters.email.words import answers, badge, one_line, origin, steps_heading, title

COLUMNS = 78
_GAP = "  "


def plain_text(notice: Notice) -> str:
    """Write the whole message; lines end with ``\\n``."""
    voice = notice.voice
    facts = grid([(one_line(label), one_line(value)) for label, value in notice.facts])
    charts = [_chart(chart, voice) for chart in notice.charts]
    is_digest = notice.kind is NoticeKind.DIGEST  # its tables come first
    blocks = [
        [badge(notice.kind, notice.priority, voice).word.upper(), *_heading(title(notice), "=")],
        _lines(notice.lines) if notice.lines else _wrapped(one_line(notice.summary)),
        _answers(answers(notice)),
        *([] if is_digest else charts),
        _steps(notice.advice, steps_heading(notice)),
        [*_heading(voice.say("Details"), "-"), *facts] if facts and notice.lines else facts,
        *(_table(table) for table in notice.tables),
        *(charts if is_digest else []),
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


def _lines(lines: Sequence[tuple[str, str]]) -> list[str]:
    """Label and text in one paragraph each, so that a screen reader says them together."""
    return [line for label, said in lines for line in _hanging(f"{one_line(label)}: {one_line(said)}", "  ")]


def _answers(links: Sequence[AnswerLink]) -> list[str]:
    """An address stands on a line of its own, whole, so that a reader can open it."""
    return [line for link in links for line in (*_wrapped(f"{one_line(link.label)}:"), f"  {link.url}")]


def _chart(chart: Chart, voice: Voice) -> list[str]:
    drawn = one_line(spark_line(chart, voice))
    return [*_wrapped(one_line(chart.alt or chart.title)), *([f"  {drawn}"] if drawn else [])]


def _steps(sentences: Sequence[str], name: str) -> list[str]:
    """Numbered where there are several."""
    marks = [f"{n}. " for n in range(1, len(sentences) + 1)] if len(sentences) > 1 else ["- "]
    lines = [
        line
        for mark, sentence in zip(marks, sentences, strict=False)
        for line in _hanging(f"{mark}{one_line(sentence)}", " " * len(mark))
    ]
    return [*_heading(one_line(name), "-"), *lines] if lines else []


def _hanging(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, COLUMNS, subsequent_indent=indent, break_on_hyphens=False)


def _heading(text: str, rule: str) -> list[str]:
    lines = _wrapped(text)
    return [*lines, rule * max(map(len, lines))] if lines else []


def _wrapped(text: str, width: int = COLUMNS) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False)
