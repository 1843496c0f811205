"""Recall over the size of a fault: one small picture for each kind."""

from collections.abc import Sequence
from html import escape

from parchd.evaluation.strata import SIZES, Share, Strata
from parchd.workbench import svg

_WIDTH, _HEIGHT, _LEFT, _TOP, _ACROSS, _DOWN = 46.0, 30.0, 9.0, 6.0, 34.0, 16.0

STYLE = """
.multiples { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(11rem, 100%), 1fr)); gap: .6rem; }
.small-one { display: block; width: 100%; height: auto; }
.small-one text { font: 2.6px system-ui, "DejaVu Sans", sans-serif; fill: #111; }
.small-one .title { font-weight: 700; font-size: 3px; }
.small-one .n { text-anchor: end; }
.small-one .mid { text-anchor: middle; }
.small-one .grid { stroke: #ccc; stroke-width: .15; }
.small-one .bar { fill: #08306b; }
.small-one .rest { fill: #fff; stroke: #08306b; stroke-width: .25; }
"""


def multiples(kinds: Sequence[str], strata: Strata) -> str:
    """Draw all kinds, each with a bar for each quarter of the size."""
    return '<div class="multiples">' + "\n".join(_one(kind, strata) for kind in kinds) + "</div>"


def _one(kind: str, strata: Strata) -> str:
    parts = [svg.text(0.0, 3.2, kind, "title")]
    for share, words in ((0.0, "0"), (0.5, "50"), (1.0, "100 %")):
        y = _TOP + (1.0 - share) * _DOWN
        parts += [svg.line(_LEFT, y, _LEFT + _ACROSS, y, "grid"), svg.text(_LEFT - 0.8, y + 0.9, words, "n")]
    for number, size in enumerate(SIZES):
        parts += _bar(number, strata.get((kind, size)))
    parts += [svg.text(_LEFT, _HEIGHT - 0.6, "mild"), svg.text(_LEFT + _ACROSS, _HEIGHT - 0.6, "strong", "n")]
    label = f"recall of {escape(kind)} by size"
    head = f'<svg class="small-one" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" aria-label="{label}">'
    return head + "\n".join(parts) + "</svg>"


def _bar(number: int, share: Share | None) -> list[str]:
    width = _ACROSS / len(SIZES)
    x = _LEFT + width * number + 0.8
    if share is None:
        return []
    high = share.recall * _DOWN
    return [
        svg.rect(x, _TOP, width - 1.6, _DOWN, "rest"),
        svg.rect(x, _TOP + _DOWN - high, width - 1.6, high, "bar"),
        svg.text(x + width / 2.0 - 0.8, _TOP + _DOWN + 3.3, f"{share.found}/{share.faults}", "mid"),
    ]
