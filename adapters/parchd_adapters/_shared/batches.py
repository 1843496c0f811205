"""Samples packed for the intake."""

from collections.abc import Iterable, Iterator

from parchd.contract import Sample

LARGEST = 1000


def pack(groups: Iterable[tuple[Sample, ...]], largest: int = LARGEST) -> Iterator[tuple[Sample, ...]]:
    """Join groups into runs of at most ``largest`` samples; a group is never split, however large.

    >>> from parchd.contract import Unit
    >>> pair = (Sample("a", 0, 1.0, Unit.V), Sample("b", 0, 2.0, Unit.V))
    >>> [len(run) for run in pack([pair, pair, pair], largest=5)]
    [4, 2]
    """
    run: list[Sample] = []
    for group in groups:
        if run and len(run) + len(group) > largest:
            yield tuple(run)
            run = []
        run.extend(group)
    if run:
        yield tuple(run)
