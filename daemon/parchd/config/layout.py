"""Tables and paragraphs for a terminal of 80 columns."""

import textwrap
from collections.abc import Sequence

WIDTH = 80


def table(rows: Sequence[Sequence[str]], left: set[int]) -> list[str]:
    """Line up cells; headings of two words stand on two lines."""
    heads = [head.partition(" ") for head in rows[0]]
    second = [second for _, _, second in heads]
    lines = [[first for first, _, _ in heads], *([second] if any(second) else []), *rows[1:]]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    texts = (
        "  ".join(
            cell.ljust(w) if i in left else cell.rjust(w) for i, (cell, w) in enumerate(zip(line, widths, strict=True))
        )
        for line in lines
    )
    return [f"  {text}".rstrip() for text in texts]


def wrapped(text: str, first: str, rest: str) -> list[str]:
    """Break a text into lines."""
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False, break_long_words=False
    )
