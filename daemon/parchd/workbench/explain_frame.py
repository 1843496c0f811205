"""Where things lie in the picture of a tensiometer: pixels of moments and of tensions."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from parchd.workbench import svg
from parchd.workbench.chart import Span
from parchd.workbench.chart_axis import ticks
from parchd.workbench.explain_case import Explained, Track

LETTER, BOLD = 6.6, 7.6
"""Mean width of a letter, pixels; a little more than most fonts need."""
NARROW = 520
_LOWEST_KPA, _LEAST_KPA = -20.0, 12.0
_BEYOND, _NEAR, _ROOM = 1.25, 0.65, 0.05


@dataclass(frozen=True, slots=True)
class Frame:
    """The field between the axes.

    Args:
        width: of the whole picture.
        left, right, top, bottom: edges of the field.
    """

    width: float
    left: float
    right: float
    top: float
    bottom: float
    start_us: int
    end_us: int
    kpa: Span
    ticks: tuple[float, ...]

    @property
    def is_narrow(self) -> bool:
        return self.width < NARROW

    def x(self, time_us: float) -> float:
        """Across; what lies outside of the span lies at its edge."""
        part = (time_us - self.start_us) / (self.end_us - self.start_us)
        return self.left + min(1.0, max(0.0, part)) * (self.right - self.left)

    def y(self, kpa: float) -> float:
        """Down; what lies outside of the axis lies at its edge."""
        part = (self.kpa.high - kpa) / self.kpa.width
        return self.top + min(1.0, max(0.0, part)) * (self.bottom - self.top)


def reach(case: Explained, most_ticks: int) -> tuple[Span, list[float]]:
    """Choose the axis of tension, with a little room, and numbers along it."""
    span = held(case)
    room = _ROOM * span.width
    return Span(span.low - room, span.high + room), ticks(Span(span.low - room, span.high + room), most_ticks)


def held(case: Explained) -> Span:
    """What the axis of tension must hold: all that was measured and the limits, but no values that no ground can have.

    The usable limit is left out where all else lies far below it.
    """
    highest = _BEYOND * case.portrait.limit_kpa
    values = [value for track in (case.own, *case.neighbours) for value in _values(track)]
    asked = [kpa for _, kpa in case.portrait.limits]
    within = [min(highest, max(_LOWEST_KPA, value)) for value in (0.0, _LEAST_KPA, *asked, *values)]
    low, high = min(within), max(within)
    if high > _NEAR * case.portrait.limit_kpa:
        high = max(high, case.portrait.limit_kpa)
    return Span(low, high)


def is_beyond(case: Explained, span: Span) -> bool:
    """Whether some of what it read lies outside of the axis."""
    return any(value < span.low - 0.5 or value > span.high + 0.5 for value in _values(case.own))


def _values(track: Track) -> Iterable[float]:
    for bucket in track.buckets:
        if bucket.mean == bucket.mean:
            yield bucket.low
            yield bucket.high


def text_width(text: str, *, bold: bool = False) -> float:
    return (BOLD if bold else LETTER) * len(text)


def plate(x: float, y: float, text: str, kind: str = "") -> str:
    """Write a text on white ground, so that it can be read upon stripes and curves."""
    ground = {"x": x - 2.0, "y": y - 10.5, "width": text_width(text) + 3.0, "height": 13.5, "class": "plate"}
    return svg.element("rect", ground) + svg.text(x, y, text, kind)


def shortened(text: str, room: float) -> str:
    """Cut a text that does not fit.

    >>> shortened("north block", 40.0)
    'north…'
    """
    most = max(1, int(room / LETTER))
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def apart(middles: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move labels apart that would lie on each other, within edges, in the order given (ascending).

    >>> apart([1.0, 2.0, 99.0], 3.0, 0.0, 100.0), apart([99.0, 99.0], 3.0, 0.0, 100.0)
    ([1.0, 4.0, 99.0], [97.0, 100.0])
    """
    placed: list[float] = []
    for middle in middles:
        placed.append(max(middle, placed[-1] + gap if placed else low))
    edge = high
    for number in range(len(placed) - 1, -1, -1):
        placed[number] = min(placed[number], edge)
        edge = placed[number] - gap
    return placed
