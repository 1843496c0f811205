"""A tube that lost its water behind a wrong unit: numbers that were many times too large read less than free water.

Through such a unit a column shows its own weight many times over, however wet the soil is: what reads half of minus
its head has next to no vacuum.
"""

import math

from parchd.diagnosis.factors import BESIDE_BOARD, BESIDE_NEIGHBOURS, CHANGED_BY, FACTORS
from parchd.diagnosis.findings import Fact, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.tube import BROKEN_H, CAME_FROM, LEAST_HEAD_KPA
from parchd.diagnosis.verdict import Case, Look

SEEN_H, KNOWN_H, EMPTY_SHARE = 12, 10, -0.5
"""So many hours, so many of them known, it must read so much of its head; with a column it reads more than nothing."""
TOLD = (CHANGED_BY, BESIDE_BOARD, BESIDE_NEIGHBOURS)
UNBROKEN, ALIKE = 0.5, 0.05
"""Of the tension at the dry end a broken column has this left at most; a signal so near to its vacuum is a pressure."""


def emptied(look: Look) -> Case | None:
    """See a tube without water; it let air in if it was at the dry end before."""
    head_kpa = look.instrument.head_kpa
    unit = look.state.findings.get(FindingKey(FindingKind.WRONG_UNIT, look.instrument.subject))
    factor = 0.0 if unit is None else _factor(unit)
    recent = known(look.past("mean_kpa", SEEN_H))
    if factor <= 1.0 or head_kpa < LEAST_HEAD_KPA or len(recent) < KNOWN_H or max(recent) > EMPTY_SHARE * head_kpa:
        return None
    came = _dry_end(look, factor)
    kind = FindingKind.LOST_WATER if came is None else FindingKind.AIR_ENTRY
    hour, from_kpa = came or (look.hour + 1 - SEEN_H, math.nan)
    facts = [Fact("reads", recent[-1], "kPa"), Fact("an empty tube reads", -head_kpa, "kPa")]
    if came is not None:
        facts.append(Fact("it had fallen from", from_kpa, "kPa"))
    return Case(kind, hour * HOUR_US, 0.8, tuple(facts), beside=frozenset({FindingKind.WRONG_UNIT}))


def _factor(unit: Finding) -> float:
    """The factor between two units next to what was told; 0: nothing was."""
    told = next((fact.value for fact in unit.facts if fact.what in TOLD and not isinstance(fact.value, str)), 0.0)
    return min(FACTORS, key=lambda one: abs(math.log(one / told))) if told > 0.0 else 0.0


def _dry_end(look: Look, factor: float) -> tuple[int, float] | None:
    """The last hour at the dry end and the tension then, of signals that are pressures; ``None``: it was not there."""
    first, head_kpa = look.hour - BROKEN_H, look.instrument.head_kpa
    names = ("raw_low", "raw_high", "mean_kpa")
    lows, highs, means = (look.standing.hours.column(name, first, look.hour + 1) for name in names)
    raws = [(low + high) / 2.0 for low, high in zip(lows, highs, strict=True)]
    pairs = [(abs(raw), mean + head_kpa) for raw, mean in zip(raws, means, strict=True) if mean > head_kpa]
    if not pairs or any(abs(raw - vacuum) > ALIKE * vacuum for raw, vacuum in pairs):
        return None
    tensions = [abs(raw) / factor - head_kpa for raw in raws]
    dry = [number for number, kpa in enumerate(tensions) if kpa >= CAME_FROM * look.instrument.limit_kpa]
    if not dry or max(known(tensions[dry[-1] + 2 :]), default=math.inf) > UNBROKEN * tensions[dry[-1]]:
        return None
    return first + dry[-1], tensions[dry[-1]]
