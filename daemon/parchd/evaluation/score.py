"""What the diagnosis said of one season, beside what was true.

Rules:

- A chain of findings is judged by its last kind.
- It is right if a fault of that kind concerns its subject and it was found while the fault held, or up to seven days
  after it was mended. A fault is found once; further right chains about it count for nothing.
- A warning of frost may come six hours before its time.
- A fault of a source is also found on a tensiometer of that source if the kind is the same.
- Any other chain is false, unless it stands beside a fault on the same subject and `ACCEPTED_WITH` names the pair.
- A finding of silence that the records bear out (`outages`) is never false; such findings are counted apart.
- A fault that the truth says cannot be seen is set aside; what is rightly said of it counts for nothing.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.accepted import accepted
from parchd.evaluation.run import Chain
from parchd.evaluation.showing import Showing
from parchd.simulator.season import Fault

BEFORE_US = 6 * 3600 * US_PER_S
"""How long before its time a warning may come; of other kinds nothing may be said before they begin."""
AFTER_US = 7 * 86_400 * US_PER_S
"""How long after a fault was mended it may still be found."""


class Mark(StrEnum):
    FOUND = "found"
    MISSED = "missed"
    ASIDE = "set aside"


@dataclass(frozen=True, slots=True)
class Judged:
    """One fault and what became of it.

    Args:
        chain: that named it rightly.
        wrong: false chains on what it concerns, while it held.
    """

    fault: Fault
    showing: Showing
    mark: Mark
    chain: Chain | None = None
    wrong: tuple[Chain, ...] = ()


@dataclass(frozen=True, slots=True)
class Stray:
    """A false chain; ``beside`` is the newest fault that held on its subject, if any."""

    chain: Chain
    beside: Fault | None = None

    @property
    def kind(self) -> FindingKind:
        return self.chain.last.key.kind


@dataclass(frozen=True, slots=True)
class Score:
    """The judgement of a season."""

    judged: tuple[Judged, ...]
    strays: tuple[Stray, ...]
    outages: int = 0


def score(
    faults: Sequence[Fault],
    showings: Sequence[Showing],
    chains: Iterable[Chain],
    subjects: Callable[[Fault], frozenset[str]],
    is_outage: Callable[[Chain], bool] = lambda _: False,
) -> Score:
    """Judge what was said.

    Args:
        showings: one for each fault.
        subjects: all subjects that a fault concerns.
        is_outage: whether a chain tells of a silence that was real, though no fault was planned.
    """
    found: dict[int, Chain] = {}
    strays: list[Stray] = []
    outages = 0
    for chain in chains:
        held = [
            number for number, fault in enumerate(faults) if _holds(fault, chain) and _about(chain, subjects(fault))
        ]
        named = [number for number in held if faults[number].kind is chain.last.key.kind]
        if named:
            found.setdefault(next((n for n in named if n not in found), named[0]), chain)
        elif is_outage(chain):
            outages += 1
        elif not any(accepted(faults[number].kind, chain.last.key.kind) for number in held):
            strays.append(Stray(chain, max((faults[n] for n in held), key=lambda one: one.start_us, default=None)))
    judged = (
        _judged(fault, shown, found.get(n), strays)
        for n, (fault, shown) in enumerate(zip(faults, showings, strict=True))
    )
    return Score(tuple(judged), tuple(strays), outages)


def _holds(fault: Fault, chain: Chain) -> bool:
    found_us = chain.last.found_us
    early_us = BEFORE_US if fault.kind is FindingKind.FROST_RISK else 0
    return fault.start_us - early_us <= found_us and (fault.end_us is None or found_us <= fault.end_us + AFTER_US)


def _about(chain: Chain, subjects: frozenset[str]) -> bool:
    return chain.last.key.subject in subjects


def _judged(fault: Fault, shown: Showing, chain: Chain | None, strays: Iterable[Stray]) -> Judged:
    mark = Mark.ASIDE if shown.aside else Mark.MISSED if chain is None else Mark.FOUND
    return Judged(fault, shown, mark, chain, tuple(stray.chain for stray in strays if stray.beside is fault))
