"""A small picture of the last days, as numbers: whoever delivers a message draws it, or leaves it out."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a chart.

    Args:
        label: what it shows; one or two words.
        values: one for each step of the chart, in its unit; ``None``: nothing is known, the line has a gap.
        is_main: it is what the chart is about; the others stand beside it for comparison.
    """

    label: str
    values: tuple[float | None, ...]
    is_main: bool = True


@dataclass(frozen=True, slots=True)
class Limit:
    """A level that means something, with its name."""

    label: str
    value: float


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment that means something, with its name."""

    label: str
    time_us: int


@dataclass(frozen=True, slots=True)
class Chart:
    """Courses over some days, in the language and units of the reader; a few kB.

    Args:
        title: what it shows.
        unit: of values and limits.
        start_us: time of the first value, microseconds UTC.
        step_us: from one value to the next.
        lines: courses; 300 values each at most.
        limits: levels within the picture.
        marks: moments within the picture.
        alt: the same in a sentence, for those who do not see it.
        is_small: it is one of several, for a glance.
    """

    title: str
    unit: str
    start_us: int
    step_us: int
    lines: tuple[Line, ...]
    limits: tuple[Limit, ...] = ()
    marks: tuple[Mark, ...] = ()
    alt: str = ""
    is_small: bool = False

    @property
    def steps(self) -> int:
        """How many values its longest line has."""
        return max((len(line.values) for line in self.lines), default=0)

    @property
    def end_us(self) -> int:
        """Time of the last value."""
        return self.start_us + self.step_us * max(0, self.steps - 1)

    @classmethod
    def from_raw(cls, raw: dict[str, Any]) -> "Chart":
        """Make it of what ``dataclasses.asdict`` gave, also after JSON.

        >>> from dataclasses import asdict
        >>> line, limit, mark = Line("a", (1.0, None)), Limit("plan", 30.0), Mark("raised", 5)
        >>> chart = Chart("North", "kPa", 0, 10, (line,), (limit,), (mark,))
        >>> Chart.from_raw(asdict(chart)) == chart
        True
        """
        lines = tuple(Line(one["label"], tuple(one["values"]), one["is_main"]) for one in raw["lines"])
        limits, marks = (tuple(kind(**one) for one in raw[key]) for kind, key in ((Limit, "limits"), (Mark, "marks")))
        return cls(**{**raw, "lines": lines, "limits": limits, "marks": marks})
