"""Tables of numbers as pictures: the darker, the more. One hue only, so that no eye needs to tell colours apart."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from parchd.workbench import svg

_LIGHT, _DARK = (255, 255, 255), (8, 48, 107)
_CELL_W, _CELL_H, _LEFT, _FONT = 7.4, 5.4, 38.0, 2.7
_LETTER = 1.55
_WHITE_FROM = 0.5

STYLE = f"""
.heat {{ display: block; width: 100%; height: auto; }}
.heat text {{ font: {_FONT}px system-ui, "DejaVu Sans", sans-serif; fill: #111; }}
.heat .n {{ text-anchor: end; }}
.heat .mid {{ text-anchor: middle; }}
.heat .on-dark {{ text-anchor: middle; fill: #fff; }}
.heat .soft {{ fill: #555; }}
.heat .frame {{ fill: none; stroke: #111; stroke-width: .35; }}
.heat .cell {{ stroke: #ddd; stroke-width: .12; }}
"""


@dataclass(frozen=True, slots=True)
class Heat:
    """A table to be drawn.

    Args:
        title: said to those who do not see it.
        rows, columns: names in order.
        shares: darkness of a cell, 0 to 1, by row and column; a cell without one stays empty.
        texts: what stands in it.
        framed: cells with a frame (what is right).
    """

    title: str
    rows: Sequence[str]
    columns: Sequence[str]
    shares: Mapping[tuple[str, str], float]
    texts: Mapping[tuple[str, str], str]
    framed: Callable[[str, str], bool] = lambda _row, _column: False


def heat_svg(heat: Heat, row_title: str, column_title: str) -> str:
    """Draw a table; names of columns stand on end where they are longer than a cell is wide."""
    upright = max((len(name) for name in heat.columns), default=0) * _LETTER > _CELL_W * 1.6
    width_each = _CELL_W if upright else _CELL_W * 1.7
    top = (max((len(name) for name in heat.columns), default=0) * _LETTER + 8.0) if upright else 11.0
    width, height = _LEFT + width_each * len(heat.columns) + 2.0, top + _CELL_H * len(heat.rows) + 2.0
    parts = [svg.text(_LEFT, 3.2, column_title, "soft"), svg.text(0.0, top - 1.6, row_title, "soft")]
    for number, name in enumerate(heat.columns):
        x = _LEFT + width_each * (number + 0.5)
        parts.append(_upright(x + 0.9, top - 1.5, name) if upright else svg.text(x, top - 1.6, name, "mid"))
    for place, row in enumerate(heat.rows):
        y = top + _CELL_H * place
        parts.append(svg.text(_LEFT - 1.2, y + 3.7, row, "n"))
        parts += [
            part
            for number, column in enumerate(heat.columns)
            for part in _cell(heat, row, column, _LEFT + width_each * number, y, width_each)
        ]
    head = f'<svg class="heat" viewBox="0 0 {width:.1f} {height:.1f}" role="img" aria-label="{escape(heat.title)}"'
    return f'{head} style="max-width: {width * 1.25:.0f}mm">' + "\n".join(parts) + "</svg>"


def _upright(x: float, y: float, words: str) -> str:
    return svg.element("text", {"x": x, "y": y, "transform": f"rotate(-90 {x:.2f} {y:.2f})"}, escape(words))


def _cell(heat: Heat, row: str, column: str, x: float, y: float, width: float) -> list[str]:
    share = heat.shares.get((row, column))
    fill = colour(0.0 if share is None else share)
    shape: dict[str, object] = {"x": x, "y": y, "width": width, "height": _CELL_H}
    parts = [svg.element("rect", shape | {"class": "cell", "fill": fill})]
    if heat.framed(row, column):
        parts.append(svg.element("rect", shape | {"class": "frame"}))
    text = heat.texts.get((row, column), "")
    if text:
        kind = "on-dark" if share is not None and share >= _WHITE_FROM else "mid"
        parts.append(svg.text(x + width / 2.0, y + 3.7, text, kind))
    return parts


def colour(share: float) -> str:
    """The colour of a share, white to dark blue; small ones can already be told from nothing.

    >>> colour(0.0), colour(1.0)
    ('#ffffff', '#08306b')
    """
    depth = min(1.0, share) ** 0.6 if share > 0.0 else 0.0
    mixed = (round(light + (dark - light) * depth) for light, dark in zip(_LIGHT, _DARK, strict=True))
    return "#" + "".join(f"{part:02x}" for part in mixed)
