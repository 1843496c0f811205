"""How long the diagnosis takes, as a picture: one line for each kind, hours along a logarithmic axis."""

import math
from collections.abc import Iterable, Sequence

from parchd.evaluation.tally import Row, quantile
from parchd.workbench import svg

_LEFT, _WIDTH, _LINE, _TOP = 38.0, 140.0, 5.4, 9.0
_MARKS = (
    (0.25, "15 min"), (1.0, "1 h"), (6.0, "6 h"), (24.0, "1 day"), (72.0, "3 days"), (168.0, "7 days"),
    (672.0, "28 days"), (2880.0, "120 days"),
)  # fmt: skip

STYLE = """
.delays { display: block; width: 100%; height: auto; max-width: 230mm; }
.delays text { font: 2.7px system-ui, "DejaVu Sans", sans-serif; fill: #111; }
.delays .n { text-anchor: end; }
.delays .mid { text-anchor: middle; }
.delays .soft { fill: #555; }
.delays .grid { stroke: #ccc; stroke-width: .15; }
.delays .reach { stroke: #08306b; stroke-width: .5; }
.delays .end { stroke: #08306b; stroke-width: .5; }
.delays .half { fill: #08306b; }
"""


def delays_svg(rows: Sequence[Row]) -> str:
    """Draw the median (dot) and what 10 and 90 of 100 stay below (line) of the time until a fault was named."""
    shown = [row for row in rows if row.delay_h]
    height = _TOP + _LINE * len(shown) + 2.0
    parts = list(_grid(height))
    for number, row in enumerate(shown):
        parts += _row(row, _TOP + _LINE * (number + 0.5))
    label = "time from the beginning of a fault until it was named, by kind"
    head = f'<svg class="delays" viewBox="0 0 {_LEFT + _WIDTH + 22:g} {height:g}" role="img" aria-label="{label}">'
    return head + "\n".join(parts) + "</svg>"


def _grid(height: float) -> Iterable[str]:
    for hours, words in _MARKS:
        yield svg.line(_x(hours), _TOP - 2.0, _x(hours), height - 2.0, "grid")
        yield svg.text(_x(hours), 4.5, words, "mid")


def _row(row: Row, y: float) -> list[str]:
    low, half, high = (quantile(row.delay_h, share) for share in (0.1, 0.5, 0.9))
    shape: dict[str, object] = {"cx": _x(half), "cy": y, "r": 1.2, "class": "half"}
    return [
        svg.text(_LEFT - 1.2, y + 0.9, row.name, "n"),
        svg.line(_x(low), y, _x(high), y, "reach"),
        *(svg.line(_x(hours), y - 1.0, _x(hours), y + 1.0, "end") for hours in (low, high)),
        svg.element("circle", shape),
        svg.text(_LEFT + _WIDTH + 2.0, y + 0.9, f"{half:.1f} h", "soft"),
    ]


def _x(hours: float) -> float:
    first, last = math.log(_MARKS[0][0]), math.log(_MARKS[-1][0])
    place = (math.log(max(hours, _MARKS[0][0])) - first) / (last - first)
    return _LEFT + 2.0 + min(1.0, place) * (_WIDTH - 4.0)
