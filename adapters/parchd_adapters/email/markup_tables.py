"""Tables within the HTML of a message."""

import re
from collections.abc import Sequence
from html import escape

from parchd.contract import Table
from parchd_adapters.email.words import one_line

FAINT = "opacity:0.75"
_RULE = "1px solid rgba(128,128,128,0.4)"
_OPEN_CELL = "padding:7px 12px 7px 0;text-align:left;vertical-align:top"
_CELL = f"{_OPEN_CELL};border-bottom:{_RULE}"
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:kPa|cbar|hPa|mbar|bar|psi|cmH2O|min|h|days?|Tagen?|Tage?|cm|mV|V|mA|MB|\N{DEGREE SIGN}C|%)(?!\w))"
)
_PAIR, _FEW = 2, 3  # columns that fit a phone whatever they hold
_SHORT, _TIME, _TINY = 20, 18, 9  # characters


def text_of(text: str) -> str:
    """Make any text safe within the page, also within quotes; a number stays with its unit."""
    return _BEFORE_UNIT.sub("&nbsp;", escape(one_line(text)))


def heading(text: str) -> str:
    """A heading within the page."""
    return f'<h2 style="font-size:17px;margin:24px 0 8px">{text_of(text)}</h2>'


def facts_table(facts: Sequence[tuple[str, str]], name: str = "") -> str:
    """Labels and values, below a heading if there is one."""
    if not facts:
        return ""
    rows = "\n".join(
        f'<tr><th scope="row" style="{_CELL};width:34%;font-weight:400;{FAINT}">{text_of(label)}</th>'
        f'<td style="{_CELL};padding-right:0">{text_of(value)}</td></tr>'
        for label, value in facts
    )
    above = f"{heading(name)}\n" if name else ""
    return f'{above}<table style="width:100%;border-collapse:collapse;border-top:{_RULE}">\n{rows}\n</table>'


def one_table(table: Table) -> str:
    """A table with its title."""
    columns = len(table.columns)
    below = columns > _FEW and any(len(row[-1]) > _SHORT for row in table.rows)
    head = "".join(map(_head_cell, table.columns[: columns - below]))
    rows = "\n".join(_row_and_remark(row, table.columns[-1]) if below else _row(row, _CELL) for row in table.rows)
    return (
        f'{heading(table.title)}\n<div style="overflow-x:auto">\n'
        '<table style="width:100%;border-collapse:collapse;font-size:14px;line-height:1.35;overflow-wrap:break-word">\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>\n</div>"
    )


def _head_cell(text: str) -> str:
    return f'<th scope="col" style="{_CELL};font-weight:600;{FAINT}">{text_of(text)}</th>'


def _row(cells: Sequence[str], style: str) -> str:
    """A row; what is short, a number and its unit, stays on one line."""
    whole = _TIME if len(cells) <= _PAIR else _TINY
    return (
        "<tr>" + "".join(f'<td style="{style}{_width(cell, whole)}">{text_of(cell)}</td>' for cell in cells) + "</tr>"
    )


def _width(cell: str, whole: int) -> str:
    return ";white-space:nowrap" if len(cell) <= whole else ""


def _row_and_remark(row: Sequence[str], name: str) -> str:
    """A row whose last cell, a sentence, stands below the others: a phone has no room beside them."""
    *cells, remark = row
    if not one_line(remark):
        return _row(cells, _CELL)
    span = f'<tr><td colspan="{len(cells)}" style="{_CELL};padding-top:0">{text_of(name)}: {text_of(remark)}</td></tr>'
    return f"{_row(cells, _OPEN_CELL)}\n{span}"
