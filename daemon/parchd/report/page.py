"""A report as one HTML page that needs nothing else."""

from collections.abc import Iterator
from html import escape
from importlib.resources import files

from parchd.report.figures import Figures
from parchd.report.pictures import SLIM, STYLE, WIDE, picture_svg
from parchd.report.words import Block, Local, Picture, blocks, span_words, title
from parchd.workbench.markup import row, section, table, tag, words

_DRAWN_NOT_LISTED = (Picture.FREQUENT,)


def report_page(found: Figures, site: str, local: Local) -> str:
    """Write the page; it is well-formed XML as well, and names nothing outside of itself."""
    head = tag("header", words("h1", title(site)))
    said = [words("p", sentence) for sentence in span_words(found)]
    sections = [section(block.title, _parts(block, found)) for block in blocks(found, local)]
    style = files("parchd.workbench").joinpath("page.css").read_text(encoding="utf-8")
    body = "\n".join([head, *said, *sections])
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8"/>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>\n'
        f"{words('title', title(site))}\n"
        f"<style>\n{style}{STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _parts(block: Block, found: Figures) -> Iterator[str]:
    yield from (words("p", sentence) for sentence in block.sentences)
    if block.picture is not None:
        for width, kind in ((WIDE, "wide"), (SLIM, "slim")):
            yield tag("div", picture_svg(block.picture, found, width), kind)
    if block.rows and block.picture not in _DRAWN_NOT_LISTED:
        rows = [row([escape(text, quote=False) for text in cells], block.sides) for cells in block.rows]
        yield table(block.head, rows, block.sides)
    yield from (words("p", sentence, "small") for sentence in block.after)
