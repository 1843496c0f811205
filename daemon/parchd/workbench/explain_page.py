"""What is said of a tensiometer as one HTML page that needs nothing else: picture, evidence, what to do."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from importlib.resources import files

from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_state import Pair
from parchd.workbench.explain_svg import SLIM, STYLE, WIDE, explain_svg
from parchd.workbench.explain_words import FindingBlock, Happening, Report, cut, report
from parchd.workbench.markup import row, section, table, tag
from parchd.workbench.markup import words as plain

_MOST_HAPPENINGS, _MOST_OVER = 200, 30


def explain_page(case: Explained) -> str:
    """Write it as HTML; it is well-formed XML as well, and names nothing outside of itself."""
    said = report(case)
    sections = [
        section("Findings", _findings(said.findings)),
        *([section("Dismissed findings", _blocks(said.dismissed))] if said.dismissed else []),
        section("What happened", _happenings(said.happenings)),
        section("Its readings", [*_readings(said), *([plain("p", said.star, "small")] if said.star else [])]),
    ]
    body = "\n".join([*_header(said), _figure(case), *sections])
    style = files("parchd.workbench").joinpath("page.css").read_text(encoding="utf-8")
    more = files("parchd.workbench").joinpath("explain.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8"/>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>\n'
        f"{plain('title', f'{said.heading}: {said.verdict}')}\n"
        f"<style>\n{style}{more}{_within('.chart', STYLE)}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n"
        "</html>\n"
    )


def _within(selector: str, style: str) -> str:
    """Keep the style of a picture to the picture.

    >>> _within(".chart", "text { fill: #111; }")
    '.chart text { fill: #111; }\\n'
    """
    rules = [line for line in style.splitlines() if line]
    found = []
    for rule in rules:
        names, _, what = rule.partition(" {")
        found.append(", ".join(f"{selector} {name}" for name in names.split(", ")) + " {" + what + "\n")
    return "".join(found)


def _header(said: Report) -> Iterator[str]:
    yield tag("header", "\n".join([plain("h1", said.heading), plain("p", said.span)]))
    yield plain("p", said.state, "note state")
    pairs = "".join(tag("div", plain("dt", label) + plain("dd", value)) for label, value in said.portrait)
    yield tag("dl", pairs, "portrait")


def _figure(case: Explained) -> str:
    """The picture twice, of which a screen or paper shows the one that suits its width."""
    wide = tag("div", explain_svg(case, WIDE, mark="w", alone=False), "chart wide")
    slim = tag("div", explain_svg(case, SLIM, mark="s", alone=False), "chart slim")
    more = f" {case.left_out} more of the zone are not drawn." if case.left_out else ""
    names = ", ".join(track.label for track in case.neighbours)
    beside = f" Thin lines: its neighbours {names}.{more}" if names else more
    words = f"Soil water tension at the cup. Times are local ({case.portrait.time_zone}).{beside}"
    return tag("figure", f"{wide}\n{slim}\n{plain('figcaption', words)}")


def _findings(blocks: Sequence[FindingBlock]) -> Iterable[str]:
    return list(_blocks(blocks)) or [plain("p", "None within this span.")]


def _blocks(blocks: Sequence[FindingBlock]) -> Iterator[str]:
    told: set[str] = set()
    shown, left_out = cut(blocks, _MOST_OVER)
    for block in shown:
        parts = [tag("h3", f"{escape(block.title, quote=False)} {plain('span', block.word, 'tag')}")]
        parts += [plain("p", block.meaning)] if block.title not in told else []
        told.add(block.title)
        parts.append(_pairs(block.facts, f"Evidence of {block.title}"))
        if block.doing:
            steps = "".join(plain("li", step) for step in block.doing)
            parts += [plain("h4", "What to do"), tag("ol", steps)]
        parts += [tag("p", f"{plain('b', label)}: {escape(text, quote=False)}") for label, text in block.notes]
        yield tag("article", "\n".join(parts), "open" if block.is_open else "")
    if left_out:
        yield plain("p", f"{left_out} more that were over before are left out.")


def _pairs(pairs: Iterable[Pair], caption: str) -> str:
    head = tag("caption", escape(caption, quote=False))
    rows = "".join(
        tag("tr", f'<th scope="row">{escape(label, quote=False)}</th>{plain("td", value)}') for label, value in pairs
    )
    return tag("table", f"{head}<tbody>{rows}</tbody>", "pairs")


def _happenings(found: tuple[Happening, ...]) -> Iterator[str]:
    if not found:
        yield plain("p", "Nothing was seen or written down within this span.")
        return
    left_out = len(found) - _MOST_HAPPENINGS
    if left_out > 0:
        yield plain("p", f"The last {_MOST_HAPPENINGS}; {left_out} before them are left out.")
    rows = [
        row([escape(text, quote=False) for text in (one.when, one.what, in_words(one.facts))], "<<<")
        for one in reversed(found[-_MOST_HAPPENINGS:])
    ]
    yield table(("When", "What", "Evidence"), rows, "<<<", "happenings")


def in_words(pairs: Iterable[Pair]) -> str:
    """Put label and value pairs into one line.

    >>> in_words((("Fell by", "31.0 kPa"), ("Reached", "30 cm")))
    'fell by 31.0 kPa; reached 30 cm'
    """
    return "; ".join(f"{label[:1].lower()}{label[1:]} {value}" for label, value in pairs)


def _readings(said: Report) -> Iterator[str]:
    if said.flags:
        yield _pairs(said.flags, "Share of its readings by flag")
    else:
        yield plain("p", "There are no readings within this span.")
