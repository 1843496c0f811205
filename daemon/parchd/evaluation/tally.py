"""All seasons together: recall, precision, delay, dating, and what was taken for what."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from math import nan

import numpy as np

from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.score import Judged, Mark

HEALTHY, NOTHING = "healthy", "nothing"


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of fault, or one form of it, or all.

    Args:
        faults: that count; ``aside`` are left out of it.
        false: findings of this kind that are wrong; ``None`` for a form, which findings do not name.
        delay_h: from the beginning of a fault until it was rightly named, of those found.
        doubt_h: until anything was said, of the same.
        shown_h: from the first sample that shows the fault until it was rightly named.
        dating_h: how much later than the truth the finding lets the fault begin.
    """

    name: str
    faults: int
    found: int
    aside: int
    false: int | None
    delay_h: tuple[float, ...]
    doubt_h: tuple[float, ...]
    shown_h: tuple[float, ...]
    dating_h: tuple[float, ...]

    @property
    def recall(self) -> float:
        return self.found / self.faults if self.faults else nan

    @property
    def precision(self) -> float:
        if self.false is None or not self.found + self.false:
            return nan
        return self.found / (self.found + self.false)


@dataclass(frozen=True, slots=True)
class Tally:
    """The whole result.

    Args:
        rows: by kind, in the order of `FindingKind`; those with neither fault nor finding are left out.
        forms: rows of single forms, by ``kind (form)``.
        all: over all kinds.
        false_healthy, years_healthy: false findings and sensor-years of seasons without faults.
        false_beside, years_beside: the same of healthy tensiometers in seasons with faults.
        confusion: how often what was true (first) was said to be what (second).
        outages: silences that were found and real, though nobody planned them.
        asides: how many faults were set aside for what reason.
    """

    rows: tuple[Row, ...]
    forms: tuple[Row, ...]
    all: Row
    false_healthy: int
    years_healthy: float
    false_beside: int
    years_beside: float
    confusion: Mapping[tuple[str, str], int]
    outages: int = 0
    asides: Mapping[str, int] = field(default_factory=dict)

    @property
    def healthy_rate(self) -> float:
        """False findings per sensor-year where nothing is wrong."""
        return self.false_healthy / self.years_healthy if self.years_healthy else nan

    @property
    def beside_rate(self) -> float:
        return self.false_beside / self.years_beside if self.years_beside else nan

    def row(self, name: str) -> Row | None:
        return next((row for row in (*self.rows, *self.forms) if row.name == name), None)


def tally(results: Sequence[SeasonResult], kinds: Iterable[FindingKind] = FindingKind) -> Tally:
    """Add up seasons; only what is said of some kinds counts."""
    chosen = tuple(kinds)
    judged = [one for result in results for one in result.judged if one.fault.kind in chosen]
    false = Counter(stray.kind for result in results for stray in result.strays if stray.kind in chosen)
    rows = [_row(kind.value, [one for one in judged if one.fault.kind is kind], false[kind]) for kind in chosen]
    forms = sorted({(one.fault.kind, one.fault.form) for one in judged if one.fault.form})
    return Tally(
        tuple(row for row in rows if row.faults or row.aside or row.false),
        tuple(
            _row(f"{kind.value} ({form})", [j for j in judged if (j.fault.kind, j.fault.form) == (kind, form)], None)
            for kind, form in forms
        ),
        _row("all", judged, sum(false.values())),
        *_rates([result for result in results if not result.faulty], chosen),
        *_rates([result for result in results if result.faulty], chosen),
        _confusion(results, chosen),
        sum(result.outages for result in results),
        Counter(one.showing.aside for one in judged if one.mark is Mark.ASIDE),
    )


def _row(name: str, judged: Sequence[Judged], false: int | None) -> Row:
    found = [one for one in judged if one.mark is Mark.FOUND]
    return Row(
        name=name,
        faults=sum(one.mark is not Mark.ASIDE for one in judged),
        found=len(found),
        aside=sum(one.mark is Mark.ASIDE for one in judged),
        false=false,
        delay_h=tuple(delay_h(one) for one in found),
        doubt_h=tuple(_hours(one.chain.first_us - one.fault.start_us) for one in found if one.chain),
        shown_h=tuple(_hours(one.chain.last.found_us - (one.showing.from_us or 0)) for one in found if one.chain),
        dating_h=tuple(_hours(one.chain.last.start_us - one.fault.start_us) for one in found if one.chain),
    )


def delay_h(one: Judged) -> float:
    """Hours from the beginning of a fault until it was rightly named; NaN: it was not."""
    return nan if one.chain is None else _hours(one.chain.last.found_us - one.fault.start_us)


def _hours(us: float) -> float:
    return us / HOUR_US


def _rates(results: Sequence[SeasonResult], kinds: Sequence[FindingKind]) -> tuple[int, float]:
    strays = sum(stray.kind in kinds for result in results for stray in result.healthy_strays)
    return strays, sum(result.sensor_years for result in results)


def _confusion(results: Sequence[SeasonResult], kinds: Sequence[FindingKind]) -> Counter[tuple[str, str]]:
    """Count what was said of each fault that counts, and of what is healthy.

    A fault that was found is counted so, whatever else was said. A fault that was missed is counted for each kind that
    it was taken for. False findings beside a fault that was found stand in its row too.
    """
    cells: Counter[tuple[str, str]] = Counter()
    for result in results:
        cells[HEALTHY, NOTHING] += result.quiet
        for stray in result.strays:
            if stray.kind in kinds:
                cells[stray.beside.kind.value if stray.beside else HEALTHY, stray.kind.value] += 1
        for one in result.judged:
            if one.fault.kind in kinds:
                _count(cells, one)
    return cells


def _count(cells: Counter[tuple[str, str]], one: Judged) -> None:
    kind = one.fault.kind.value
    if one.mark is Mark.FOUND:
        cells[kind, kind] += 1
    elif one.mark is Mark.MISSED and not one.wrong:
        cells[kind, NOTHING] += 1


def aside_lines(tally: Tally) -> list[str]:
    """Why faults were set aside and how many, the most frequent first."""
    return [
        f"{count} set aside: {why}" for why, count in sorted(tally.asides.items(), key=lambda one: (-one[1], one[0]))
    ]


def quantile(values: Sequence[float], share: float) -> float:
    """Value that a share of them does not exceed; NaN: there are none.

    >>> quantile([1.0, 2.0, 3.0], 0.5)
    2.0
    """
    return float(np.quantile(values, share)) if values else nan
