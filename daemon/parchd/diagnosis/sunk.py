"""A level that sank within hours: a tube that lost part of its vacuum and holds the rest."""

from parchd.diagnosis.falls import witnesses
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.shift_back import FROM, SIZE
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Case, Look

LEAST_M = 1.0
"""Nearer to the surface irrigation may pass the shallower cup by, through cracks, within hours."""
FIRST_H, LAST_H = 18, 48
LEAST_KPA, LEAST_SHARE = 4.0, 0.33
"""Share of the vacuum that was lost."""
STEEP, STEEPEST = 0.15, 0.4
"""Share of it that went within one hour: a front that came far is slower, water from near is quicker."""
HOLDS_KPA, HOLDS_SHARE = 3.0, 0.45
"""What is left of the vacuum: wet soil leaves less."""
DRY_END = 0.8
SAME_DEPTH_M = 0.12
SHALLOWER_M = 0.05
BEFORE_H, AFTER_H = 24, 4
WETTER_H, WETTER_KPA = 48, 1.5
DRIER_KPA = 4.0
"""It was not much drier than the ground above, from where water would have run down."""
WET_AFTER_KPA = 4.0
"""It reads soil so wet as water would have left all around."""


def sunk(look: Look) -> Case | None:
    """See a fall that no water explains: the ground above is drier than it leads to, and the same depth stayed dry."""
    fall = look.standing.falls[-1] if look.standing.falls else None
    if look.instrument.place.depth_m < LEAST_M:
        return None
    if fall is None or not FIRST_H <= look.hour - fall.begin <= LAST_H:
        return None
    head_kpa = look.instrument.head_kpa
    if fall.from_kpa > DRY_END * look.instrument.limit_kpa or fall.size_kpa < max(
        LEAST_KPA, LEAST_SHARE * (fall.from_kpa + head_kpa)
    ):
        return None
    recent = known(look.past("mean_kpa", 6))
    if len(recent) < 4 or max(recent) > fall.from_kpa - 0.5 * fall.size_kpa or min(recent) + head_kpa < HOLDS_KPA:
        return None
    if middle(recent) + head_kpa < HOLDS_SHARE * (fall.from_kpa + head_kpa):
        return None
    if min(recent) > WET_AFTER_KPA:
        return None
    if not STEEP <= fall.steepest_kpa / fall.size_kpa <= STEEPEST or not _is_dry_around(look, fall):
        return None
    notes = look.standing.notes
    notes[SIZE], notes[FROM] = round(middle(recent) - fall.from_kpa, 2), round(fall.from_kpa, 2)
    facts = (
        Fact("fell from", fall.from_kpa, "kPa"),
        Fact("to", fall.low_kpa, "kPa"),
        Fact("since", fall.begin * HOUR_US, "time"),
        Fact("vacuum that it still holds", middle(recent) + head_kpa, "kPa"),
    )
    return Case(FindingKind.LEVEL_SHIFT, fall.begin * HOUR_US, 0.7, facts)


def _is_dry_around(look: Look, fall: Fall) -> bool:
    """Whether water cannot have come: most of the ground above got none, and is drier than it leads to."""
    depth_m = look.instrument.place.depth_m
    seen = witnesses(look)
    beside = [n for n in seen if abs(n.instrument.place.depth_m - depth_m) <= SAME_DEPTH_M]
    above = [n for n in seen if n.instrument.place.depth_m < depth_m - SHALLOWER_M]
    dry = [n for n in above if not _fell(n, fall) and _lowest(n, fall) > fall.low_kpa + WETTER_KPA]
    if not (beside and dry) or 2 * len(dry) < len(above) or any(_fell(n, fall) for n in beside):
        return False
    return fall.from_kpa <= middle([n.hours.at("mean_kpa", fall.begin) for n in dry]) + DRIER_KPA


def _fell(neighbour: Standing, fall: Fall) -> bool:
    return any(fall.begin - BEFORE_H <= one.begin <= fall.begin + AFTER_H for one in neighbour.falls[-8:])


def _lowest(neighbour: Standing, fall: Fall) -> float:
    return min(known(neighbour.hours.column("low_kpa", fall.begin - WETTER_H, fall.begin + AFTER_H)), default=NAN)
