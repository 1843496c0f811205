"""What a chart shows; drawn in a terminal by `chart_text`, on paper by `chart_svg`."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import median

Point = tuple[float, float]


class Look(StrEnum):
    """How a series is drawn; each differs by shape, so that no colour is needed."""

    LINE = "line"
    FITTED = "fitted"
    """A curve worked out, not measured."""
    UP = "up"
    DOWN = "down"
    LEFT_OUT = "left out"
    SUSPECT = "suspect"
    """A ring around a point that is drawn by its own series too."""

    @property
    def is_line(self) -> bool:
        return self in (Look.LINE, Look.FITTED)


@dataclass(frozen=True, slots=True)
class Series:
    """Points in order; ``label`` explains them below the drawing, empty: they explain themselves."""

    look: Look
    points: tuple[Point, ...]
    label: str = ""


@dataclass(frozen=True, slots=True)
class Level:
    """A horizontal line to compare with."""

    y: float
    label: str


@dataclass(frozen=True, slots=True)
class Span:
    """What an axis shows at least."""

    low: float
    high: float

    def holding(self, values: Iterable[float]) -> "Span":
        """Widen it until it holds all values.

        >>> Span(0.0, 1.0).holding([0.5, 2.0])
        Span(low=0.0, high=2.0)
        """
        values = list(values)
        return Span(min([self.low, *values]), max([self.high, *values]))

    @property
    def width(self) -> float:
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart.

    Args:
        title: what it is of.
        x_title, y_title: what the axes count, with units.
        x, y: what the axes show at least; the data widen them.
        notes: whole sentences below it; the first is the verdict.
        x_marks: places along x with words of their own, in a terminal; none: round numbers.
    """

    title: str
    x_title: str
    y_title: str
    x: Span
    y: Span
    series: tuple[Series, ...] = ()
    levels: tuple[Level, ...] = ()
    notes: tuple[str, ...] = ()
    x_marks: tuple[tuple[float, str], ...] = ()

    @property
    def x_span(self) -> Span:
        return self.x.holding(x for one in self.series for x, _ in one.points)

    @property
    def y_span(self) -> Span:
        values = [y for one in self.series for _, y in one.points] + [level.y for level in self.levels]
        return self.y.holding(values)


def thinned(points: Sequence[Point], most: int) -> tuple[Point, ...]:
    """Make fewer points of many: the median of each block of neighbours; the first and the last stay as they are.

    Args:
        points: in the order of x.
        most: so many at most, 3 or more.

    >>> thinned([(0.0, 1.0), (1.0, 9.0), (2.0, 1.0), (3.0, 1.0), (4.0, 5.0)], 3)
    ((0.0, 1.0), (2.0, 1.0), (4.0, 5.0))
    """
    if len(points) <= most:
        return tuple(points)
    inner = points[1:-1]
    edges = [round(number * len(inner) / (most - 2)) for number in range(most - 1)]
    blocks = [inner[start:end] for start, end in pairwise(edges)]
    middles = [(median(x for x, _ in block), median(y for _, y in block)) for block in blocks]
    return (points[0], *middles, points[-1])
