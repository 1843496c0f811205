"""A report for the terminal."""

from collections.abc import Iterator, Sequence
from textwrap import wrap

from parchd.report.figures import Figures
from parchd.report.words import Block, Local, Picture, blocks, span_words, title

LEAST_COLUMNS = 60
_STEPS = " ▁▂▃▄▅▆▇█"
_PLAIN = " .:-=+*#%@"


def report_lines(found: Figures, site: str, local: Local, columns: int, *, plain: bool) -> Iterator[str]:
    """Write a report.

    Args:
        columns: no line is wider than this, 60 at least.
        plain: draw with plain letters.
    """
    columns = max(LEAST_COLUMNS, columns)
    yield title(site)
    for said in span_words(found):
        yield from wrap(said, columns)
    for block in blocks(found, local):
        yield ""
        yield block.title
        for said in block.sentences:
            yield from wrap(said, columns - 2, initial_indent="  ", subsequent_indent="  ")
        yield from _picture(block, found, columns, _PLAIN if plain else _STEPS)
        yield from _table(block, columns)
        for said in block.after:
            yield from wrap(said, columns - 2, initial_indent="  ", subsequent_indent="  ")


def spark(values: Sequence[int], columns: int, letters: str) -> str:
    """Draw numbers as a line of letters, the fuller the higher; where there is no room, the most of several share one.

    >>> spark([0, 1, 4, 2], 10, " .:-=")
    ' .=:'
    """
    width = -(-len(values) // max(1, columns))
    most = [max(values[at : at + width]) for at in range(0, len(values), max(1, width))]
    top = max(most, default=0)
    full = len(letters) - 1
    return "".join(letters[0 if not value else max(1, round(full * value / top))] for value in most)


def _picture(block: Block, found: Figures, columns: int, letters: str) -> Iterator[str]:
    if block.picture is Picture.DAYS and found.alarms.total:
        drawn = spark(found.alarms.by_day, columns - 4, letters)
        first, last = (f"{found.span.days[n]:%d %b}" for n in (0, -1))
        yield f"  {drawn}|"
        yield f"  {first}{last:>{max(0, len(drawn) - len(first))}}" if len(drawn) > 14 else f"  {first} to {last}"
    elif block.picture is Picture.RECIPIENTS:
        wide = min(24, max(map(len, found.recipients)))
        for name, rate in found.recipients.items():
            yield f"  {name[:wide]:{wide}} {spark(rate.by_day, columns - wide - 5, letters)}|"


def _table(block: Block, columns: int) -> Iterator[str]:
    """Write a table whose widest column of words is wrapped where there is no room."""
    if not block.rows:
        return
    lines = [block.head, *block.rows]
    widths = [max(len(line[n]) for line in lines) for n in range(len(block.head))]
    while sum(widths) + 2 * len(widths) > columns and max(widths) > 10:
        widths[widths.index(max(widths))] -= 1
    for line in lines:
        cells = [wrap(text, width) or [""] for text, width in zip(line, widths, strict=True)]
        for n in range(max(map(len, cells))):
            parts = (
                f"{cell[n] if n < len(cell) else '':{'>' if side == '>' else '<'}{width}}"
                for cell, width, side in zip(cells, widths, block.sides, strict=True)
            )
            yield ("  " + "  ".join(parts)).rstrip()
