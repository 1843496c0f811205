"""The HTML of a message: inline styles only, nothing loaded from anywhere, readable on a phone and in dark mode."""

from collections.abc import Iterable, Sequence
from html import escape

from parchd.contract import Notice, Table
from parchd_adapters.email.words import Badge, badge, one_line, origin, title

_FONT = "font-family:system-ui,-apple-system,'Segoe UI',Roboto,'Noto Sans',Arial,sans-serif"
_RULE = "1px solid rgba(128,128,128,0.4)"
_OPEN_CELL = "padding:7px 12px 7px 0;text-align:left;vertical-align:top"
_CELL = f"{_OPEN_CELL};border-bottom:{_RULE}"
_FAINT = "opacity:0.75"
_FEW, _SHORT, _TINY = 3, 20, 9  # columns that fit a phone whatever they hold; characters


def html_text(notice: Notice) -> str:
    """Write the whole page; lines end with ``\\n``."""
    parts = [
        _badge(badge(notice.kind, notice.priority)),
        f'<h1 style="font-size:22px;line-height:1.25;margin:14px 0 10px">{_text(title(notice))}</h1>',
        f'<p style="margin:0 0 18px">{_text(notice.summary)}</p>',
        _facts(notice.facts),
        _advice(notice.advice),
        *map(_table, notice.tables),
        f'<p style="margin:26px 0 0;font-size:13px;{_FAINT}">{"<br>".join(map(_text, origin(notice)))}</p>',
    ]
    return _page(title(notice), (part for part in parts if part))


def _page(name: str, parts: Iterable[str]) -> str:
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en" style="color-scheme:light dark">',
            "<head>",
            '<meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            '<meta name="supported-color-schemes" content="light dark">',
            f"<title>{_text(name)}</title>",
            "</head>",
            f'<body style="margin:0;padding:18px 16px 28px;{_FONT};font-size:16px;line-height:1.45">',
            '<div style="max-width:640px;margin:0 auto;overflow-wrap:anywhere">',
            *parts,
            "</div>",
            "</body>",
            "</html>",
            "",
        ]
    )


def _badge(look: Badge) -> str:
    style = (
        f"display:inline-block;padding:5px 14px 5px 11px;border-radius:4px;background-color:{look.ground};"
        f"color:{look.ink};font-size:14px;font-weight:600"
    )
    return f'<div><span style="{style}">{look.shape}&nbsp; {_text(look.word)}</span></div>'


def _facts(facts: Sequence[tuple[str, str]]) -> str:
    if not facts:
        return ""
    rows = "\n".join(
        f'<tr><th scope="row" style="{_CELL};width:34%;font-weight:400;{_FAINT}">{_text(label)}</th>'
        f'<td style="{_CELL};padding-right:0;font-weight:600">{_text(value)}</td></tr>'
        for label, value in facts
    )
    return f'<table style="width:100%;border-collapse:collapse;border-top:{_RULE}">\n{rows}\n</table>'


def _advice(sentences: Sequence[str]) -> str:
    if not sentences:
        return ""
    items = "\n".join(f'<li style="margin:0 0 6px">{_text(sentence)}</li>' for sentence in sentences)
    return f'{_heading("What to do")}\n<ul style="margin:0;padding-left:22px">\n{items}\n</ul>'


def _table(table: Table) -> str:
    columns = len(table.columns)
    below = columns > _FEW and any(len(row[-1]) > _SHORT for row in table.rows)
    head = "".join(map(_head_cell, table.columns[: columns - below]))
    rows = "\n".join(_row_and_remark(row, table.columns[-1]) if below else _row(row, _CELL) for row in table.rows)
    return (
        f'{_heading(table.title)}\n<div style="overflow-x:auto">\n'
        '<table style="width:100%;border-collapse:collapse;font-size:14px;line-height:1.35;overflow-wrap:break-word">\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>\n</div>"
    )


def _head_cell(text: str) -> str:
    return f'<th scope="col" style="{_CELL};font-weight:600;{_FAINT}">{_text(text)}</th>'


def _row(cells: Sequence[str], style: str) -> str:
    """A row; what is short, a number and its unit, stays on one line."""
    return "<tr>" + "".join(f'<td style="{style}{_width(cell)}">{_text(cell)}</td>' for cell in cells) + "</tr>"


def _width(cell: str) -> str:
    return ";white-space:nowrap" if len(cell) <= _TINY else ""


def _row_and_remark(row: Sequence[str], name: str) -> str:
    """A row whose last cell, a sentence, stands below the others: a phone has no room beside them."""
    *cells, remark = row
    if not one_line(remark):
        return _row(cells, _CELL)
    span = f'<tr><td colspan="{len(cells)}" style="{_CELL};padding-top:0">{_text(name)}: {_text(remark)}</td></tr>'
    return f"{_row(cells, _OPEN_CELL)}\n{span}"


def _heading(text: str) -> str:
    return f'<h2 style="font-size:17px;margin:24px 0 8px">{_text(text)}</h2>'


def _text(text: str) -> str:
    return escape(one_line(text))
