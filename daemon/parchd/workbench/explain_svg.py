"""The picture of a tensiometer over a span, as SVG: told apart by shape and words, not by colour."""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from html import escape

from parchd.workbench import svg
from parchd.workbench.explain_axes import HEIGHT as AXIS
from parchd.workbench.explain_axes import tension_axis, time_axis
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_curves import curves, labels, labels_width
from parchd.workbench.explain_frame import LETTER, NARROW, Frame, reach
from parchd.workbench.explain_key import key
from parchd.workbench.explain_lanes import Bars, bars, hatches, lanes_height, lanes_parts
from parchd.workbench.explain_limits import limit_words, limits
from parchd.workbench.explain_marks import marks_height, marks_parts
from parchd.workbench.explain_warm import HEIGHT as WARM
from parchd.workbench.explain_warm import warm
from parchd.workbench.explain_words import report

WIDE, SLIM = 720, 360
LEAST, MOST = 320, 2000
_LEFT, _TITLE, _TITLE_LINE = 38.0, 8.0, 18.0
_TALL, _SLIM_TALL = 270.0, 220.0
_KPA_A_TICK_PX = 34.0

STYLE = """
.paper { fill: #fff; }
text { font: 12px "DejaVu Sans", system-ui, sans-serif; fill: #111; }
.title { font-size: 15px; font-weight: bold; }
.bold { font-weight: bold; }
.soft { fill: #444; }
.n { text-anchor: end; }
.mid { text-anchor: middle; }
.plate { fill: #fff; opacity: .88; }
.halo { stroke: #fff; stroke-width: 3.5; stroke-linejoin: round; paint-order: stroke; }
.day { stroke: #eee; }
.grid { stroke: #d8d8d8; }
.zero { stroke: #999; }
.axis, .onset { stroke: #111; }
.level { stroke: #444; stroke-dasharray: 7 4; }
.band { fill: #b9c2cc; stroke: #b9c2cc; stroke-width: .8; }
.own, .under, .other, .warm { fill: none; stroke-linejoin: round; stroke-linecap: round; }
.own { stroke: #111; stroke-width: 1.6; }
.under { stroke: #fff; stroke-width: 3; }
.warm { stroke: #111; stroke-width: 1.2; }
.other { stroke-width: 1.1; stroke-linecap: butt; }
.other0 { stroke: #0b5a94; }
.other1 { stroke: #b24a00; stroke-dasharray: 7 2; }
.other2 { stroke: #6a3d82; stroke-dasharray: 2 2; }
.other3 { stroke: #53606b; stroke-dasharray: 9 2 2 2; }
.bar { stroke: #111; fill: #fff; }
.bar.note { fill: #eee; }
.bar.dismissed { stroke-dasharray: 2 2; }
.stripes { stroke: #111; }
.service { stroke: #111; stroke-dasharray: 1.5 2.5; }
.solid { fill: #0b5a94; }
.thin-mark { stroke: #0b5a94; stroke-width: 1.4; }
.open-mark { fill: #fff; stroke: #111; stroke-width: 1.6; }
.wet { fill: #fff; stroke: #0b5a94; stroke-width: 1.4; }
.wetter { fill: #0b5a94; stroke: #0b5a94; stroke-width: 1.4; }
"""


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where everything lies.

    Args:
        placed: findings that found room, `hidden` more did not.
        title: its lines, the first a heading; none: there is none.
    """

    frame: Frame
    placed: Sequence[Bars]
    hidden: int
    title: tuple[str, ...]

    @property
    def lanes_top(self) -> float:
        return 2.0 + (_TITLE + _TITLE_LINE * len(self.title) if self.title else 0.0)


def explain_svg(case: Explained, width: int = WIDE, *, mark: str = "p", alone: bool = True) -> str:
    """Draw it; well-formed XML that names nothing outside of itself.

    Args:
        width: of the picture, pixels, `LEAST` to `MOST`.
        mark: goes before its names, so that two pictures fit on one page.
        alone: whether it brings its own title and style; on a page they are there already.
    """
    layout = _laid_out(case, float(width), alone=alone)
    drawn = list(_parts(case, layout, mark))
    below = layout.frame.bottom + marks_height(case) + AXIS
    if case.temperature is not None:
        drawn += warm(case, case.temperature, layout.frame, below)
        below += WARM
    signs, tall = key(case, layout.frame, layout.placed, mark, below + 4.0)
    height = round(below + 4.0 + tall + 4.0)
    said = report(case)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" '
        f'role="img" aria-labelledby="{mark}-title {mark}-desc">'
    )
    names = (
        f'<title id="{mark}-title">{escape(f"Tension of {said.heading}, {said.span}")}</title>\n'
        f'<desc id="{mark}-desc">{escape(_described(case))}</desc>'
    )
    style = [f"<style>{STYLE}</style>"] if alone else []
    paper = svg.rect(0.0, 0.0, float(width), float(height), "paper")
    return "\n".join((head, names, *style, _patterns(mark), paper, *drawn, *signs, "</svg>")) + "\n"


def _described(case: Explained) -> str:
    said = report(case)
    found = "; ".join(f"{block.title} ({block.word})" for block in said.findings) or "none"
    return f"{said.state} Findings within the span: {found}."


def _laid_out(case: Explained, width: float, *, alone: bool) -> _Layout:
    """Find room for everything; the field begins below the lanes of findings."""
    tall = _SLIM_TALL if width < NARROW else _TALL
    kpa, ticks = reach(case, round(tall / _KPA_A_TICK_PX))
    right = width - labels_width(case, width)
    frame = Frame(width, _LEFT, right, 0.0, tall, case.start_us, case.end_us, kpa, tuple(ticks))
    placed, hidden = bars(case, frame)
    layout = _Layout(frame, placed, hidden, _title(case, width) if alone else ())
    top = layout.lanes_top + lanes_height(placed, hidden) + 8.0
    return replace(layout, frame=replace(frame, top=top, bottom=top + tall))


def _title(case: Explained, width: float) -> tuple[str, ...]:
    one, letters = case.portrait, int(width / LETTER)
    below = f"tension at the cup, {one.depth_m * 100:.0f} cm deep, {one.zone}"
    return (one.name, *textwrap.wrap(below, letters), *textwrap.wrap(report(case).span, letters))


def _parts(case: Explained, layout: _Layout, mark: str) -> Iterator[str]:
    one, frame = case.portrait, layout.frame
    levels = [*one.limits, ("usable limit", one.limit_kpa)]
    yield from time_axis(case, frame, frame.bottom + marks_height(case))
    yield from tension_axis(frame)
    yield from hatches(layout.placed, frame, mark)
    yield from limits(levels, frame)
    yield from curves(case, frame)
    yield from limit_words(case, levels, frame)
    yield from marks_parts(case, frame)
    yield from lanes_parts(layout.placed, layout.hidden, layout.lanes_top, mark)
    yield from labels(case, frame)
    for number, line in enumerate(layout.title):
        yield svg.text(2.0, 16.0 + _TITLE_LINE * number, line, "soft" if number else "title")


def _patterns(mark: str) -> str:
    """Stripes for what is not believed; wider ones the other way for what is doubted."""
    return (
        f'<defs><pattern id="{mark}fail" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><line x1="1" y1="0" x2="1" y2="6" class="stripes" stroke-width="1.5" '
        f'opacity=".36"/></pattern><pattern id="{mark}suspect" width="10" height="10" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(-45)"><line x1="1" y1="0" x2="1" y2="10" class="stripes" stroke-width="1" '
        'opacity=".4"/></pattern></defs>'
    )
