"""What the signs of the picture mean, in a line or more below it."""

from collections.abc import Callable, Iterator, Sequence

from parchd.diagnosis.facts import duration
from parchd.workbench import svg
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_frame import Frame, is_beyond, text_width
from parchd.workbench.explain_lanes import Bars
from parchd.workbench.explain_marks import event_kinds, key_of

LINE = 19.0
_SIGN, _GAP = 24.0, 14.0

Sign = Callable[[float, float], str]


def key(case: Explained, frame: Frame, placed: Sequence[Bars], mark: str, top: float) -> tuple[list[str], float]:
    """Draw the key; give its height as well.

    Args:
        mark: goes before the names of patterns.
        top: its upper edge.
    """
    x, line, drawn = 2.0, 0, []
    for sign, words in _signs(case, placed, frame, mark):
        wide = _SIGN + text_width(words)
        if x > 2.0 and x + wide > frame.width:
            x, line = 2.0, line + 1
        y = top + LINE * line + 14.0
        drawn += [sign(x + 9.0, y - 4.0), svg.text(x + _SIGN, y, words)]
        x += wide + _GAP
    return drawn, LINE * (line + 1)


def _signs(case: Explained, placed: Sequence[Bars], frame: Frame, mark: str) -> Iterator[tuple[Sign, str]]:
    yield _curve, f"tension, lowest to highest of {duration(case.bucket_us / 3.6e9)}"
    kinds = {bar.kind for bar in placed}
    for kind, words in (("fail", "not believed"), ("suspect", "doubted")):
        if kind in kinds:
            yield _hatched(f"url(#{mark}{kind})"), words
    for event in event_kinds(case):
        yield key_of(event, case, frame)
    if is_beyond(case, frame.kpa):
        yield _edge, "at the edge: beyond the axis"


def _curve(x: float, y: float) -> str:
    return svg.rect(x - 9.0, y - 4.0, 18.0, 8.0, "band") + svg.line(x - 9.0, y, x + 9.0, y, "own")


def _hatched(fill: str) -> Sign:
    def sign(x: float, y: float) -> str:
        box = {"x": x - 9.0, "y": y - 6.0, "width": 18.0, "height": 12.0}
        return svg.element("rect", {**box, "fill": fill, "stroke": "#111"})

    return sign


def _edge(x: float, y: float) -> str:
    return svg.line(x - 9.0, y - 5.0, x + 9.0, y - 5.0, "axis") + svg.line(x - 6.0, y - 4.0, x + 6.0, y - 4.0, "own")
