"""What the diagnosis said of one season, beside what was true.

Rules:

- A chain of findings is judged by its last kind; what of it was said while nothing was wrong is judged by itself.
- It is right if a fault of that kind concerns its subject and it was found while the fault held, or up to seven days
  after it was mended. A fault is found once; further right chains about it count for nothing. Where
  several faults of that kind held, a chain is about the one that began next to where its evidence begins, of those not
  found before.
- A finding is made when its readings arrive, by the daemon's clock (`parchd.evaluation.run`).
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
from parchd.diagnosis.findings import Finding
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


Subjects = Callable[[Fault], frozenset[str]]


def score(
    faults: Sequence[Fault],
    showings: Sequence[Showing],
    chains: Iterable[Chain],
    subjects: Subjects,
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
    for chain in (part for whole in chains for part in _parts(whole, faults, subjects)):
        held = [number for number, fault in enumerate(faults) if _concerns(fault, chain.last, subjects)]
        named = [number for number in held if faults[number].kind is chain.last.key.kind]
        if named:
            found.setdefault(_meant(faults, [n for n in named if n not in found] or named, chain), chain)
        elif is_outage(chain):
            outages += 1
        elif not any(accepted(faults[number].kind, chain.last.key.kind) for number in held):
            strays.append(Stray(chain, max((faults[n] for n in held), key=lambda one: one.start_us, default=None)))
    judged = (
        _judged(fault, shown, found.get(n), strays)
        for n, (fault, shown) in enumerate(zip(faults, showings, strict=True))
    )
    return Score(tuple(judged), tuple(strays), outages)


def _meant(faults: Sequence[Fault], named: Iterable[int], chain: Chain) -> int:
    """Of several faults the one that began next to where the evidence begins."""
    return min(named, key=lambda number: abs(faults[number].start_us - chain.last.start_us))


def _parts(chain: Chain, faults: Sequence[Fault], subjects: Subjects) -> list[Chain]:
    """Cut a chain where the first of its findings was made while a fault held."""
    meets = [any(_concerns(fault, one, subjects) for fault in faults) for one in chain.findings]
    first = meets.index(True) if True in meets else 0
    return [Chain(part) for part in (chain.findings[:first], chain.findings[first:]) if part]


def _concerns(fault: Fault, finding: Finding, subjects: Subjects) -> bool:
    """Whether a fault held on the subject of a finding when that was made."""
    early_us = BEFORE_US if fault.kind is FindingKind.FROST_RISK else 0
    begun = fault.start_us - early_us <= finding.found_us
    held = fault.end_us is None or finding.found_us <= fault.end_us + AFTER_US
    return begun and held and finding.key.subject in subjects(fault)


def _judged(fault: Fault, shown: Showing, chain: Chain | None, strays: Iterable[Stray]) -> Judged:
    mark = Mark.ASIDE if shown.aside else Mark.MISSED if chain is None else Mark.FOUND
    return Judged(fault, shown, mark, chain, tuple(stray.chain for stray in strays if stray.beside is fault))
