"""Pieces of HTML that are XML as well."""

from collections.abc import Iterable, Sequence
from html import escape


def tag(name: str, content: str, kind: str = "") -> str:
    """Wrap markup into an element."""
    return f'<{name} class="{kind}">{content}</{name}>' if kind else f"<{name}>{content}</{name}>"


def words(name: str, text: str, kind: str = "") -> str:
    """Wrap plain text into an element.

    >>> words("p", "1 < 2", "small")
    '<p class="small">1 &lt; 2</p>'
    """
    return tag(name, escape(text, quote=False), kind)


def section(title: str, parts: Iterable[str]) -> str:
    return tag("section", "\n" + "\n".join([words("h2", title), *parts]) + "\n")


def tick_box(what: str) -> str:
    """A box to tick on the screen or on paper."""
    return f'<input type="checkbox" aria-label="{escape(what)}"/>'


def row(cells: Sequence[str], sides: str, kind: str = "", cell: str = "td") -> str:
    """One row of a table; ``sides`` has ``>`` for a column of numbers. Cells are markup."""
    written = "".join(tag(cell, text, "n" * (side == ">")) for text, side in zip(cells, sides, strict=True))
    return tag("tr", written, kind)


def table(head: Sequence[str], rows: Iterable[str], sides: str, kind: str = "") -> str:
    """A table that scrolls by itself where a screen is too narrow."""
    top = tag("thead", row([escape(text, quote=False) for text in head], sides, cell="th"))
    return tag("div", tag("table", f"\n{top}\n{tag('tbody', chr(10).join(rows))}\n", kind), "scroll")
