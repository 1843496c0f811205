"""Recall in parts: by the size of a fault, the interval between samples, the soil."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from parchd.evaluation.result import SeasonResult
from parchd.evaluation.score import Judged, Mark

SIZES = ("0 to 0.25", "to 0.5", "to 0.75", "to 1")


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many."""

    found: int
    faults: int

    @property
    def recall(self) -> float:
        return self.found / self.faults


Strata = Mapping[tuple[str, str], Share]
"""By kind and part."""


def by_size(results: Iterable[SeasonResult]) -> Strata:
    """Parts are quarters of the size of a fault, mild to strong."""
    return _strata(results, lambda one, result: SIZES[min(3, int(result.strength(one.fault) * 4.0))])


def by_interval(results: Iterable[SeasonResult]) -> Strata:
    """Parts are intervals between samples."""
    return _strata(results, lambda _, result: f"{result.plan.interval_s / 60:g} min")


def by_soil(results: Iterable[SeasonResult]) -> Strata:
    """Parts are soils; faults of sources, which have none, are left out."""
    return _strata(results, lambda one, result: result.soils.get(one.fault.subject.partition("/")[2], ""))


def parts(strata: Strata, order: Callable[[str], object] = str) -> list[str]:
    """The parts that there are, in order."""
    return sorted({part for _, part in strata}, key=order)  # type: ignore[arg-type] # any key that can be compared


def over_kinds(strata: Strata) -> dict[str, Share]:
    """All kinds together, by part."""
    summed: defaultdict[str, list[Share]] = defaultdict(list)
    for (_, part), share in strata.items():
        summed[part].append(share)
    return {part: Share(sum(s.found for s in shares), sum(s.faults for s in shares)) for part, shares in summed.items()}


def _strata(results: Iterable[SeasonResult], part: Callable[[Judged, SeasonResult], str]) -> Strata:
    marks: defaultdict[tuple[str, str], list[bool]] = defaultdict(list)
    for one, result in _counted(results):
        name = part(one, result)
        if name:
            marks[one.fault.kind.value, name].append(one.mark is Mark.FOUND)
    return {key: Share(sum(found), len(found)) for key, found in marks.items()}


def _counted(results: Iterable[SeasonResult]) -> Iterator[tuple[Judged, SeasonResult]]:
    return ((one, result) for result in results for one in result.judged if one.mark is not Mark.ASIDE)


def kinds_in(strata: Strata, order: Sequence[str]) -> list[str]:
    """The kinds that there are, in a given order."""
    return [kind for kind in order if any(kind == name for name, _ in strata)]
