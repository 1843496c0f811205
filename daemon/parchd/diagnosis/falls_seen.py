"""The falls of a tensiometer that were measured to their end, kept in its notes."""

from typing import NamedTuple

from parchd.diagnosis.clip_days import is_only_off
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look
from parchd.diagnosis.wane import LONGEST_H, Wane, wane

EVERY_H = 12
NOTE = "response.falls"
KEPT = 16
SAME_KPA, RESTS = 0.3, 1.5
"""After so many time constants a fall is over, but for a fifth."""
BESIDE_H = 36
NOBODY, KNOWN = -1.0, 0.5
"""Instead of the neighbours' time constant: nobody at its depth can be asked, for none is trusted, or known so long."""


class Seen(NamedTuple):
    """One fall.

    Args:
        begin: its hour.
        relax_h: its time constant.
        others_h: that of the neighbours at its depth in the same wetting; 0: none fell; or `NOBODY`.
        top_kpa, floor_kpa: from where to where.
        others_floor_kpa: where the neighbours fell to; 0 where none fell.
    """

    begin: int
    relax_h: float
    others_h: float
    top_kpa: float
    floor_kpa: float
    others_floor_kpa: float


def remember(look: Look) -> list[Seen] | None:
    """Measure a fall that is over by now, and keep it; ``None``: there is none."""
    first = look.hour - LONGEST_H - EVERY_H + 1
    if first < look.standing.since:
        return None
    fell = wane(look.standing.hours, first, first + EVERY_H, look.hour)
    before = seen_falls(look)
    if fell is None or any(fell.begin - fall.begin < EVERY_H for fall in before[-1:]):
        return None
    if someone_was_there(look, fell.steepest) and not look.source_has(FindingKind.DROP_OUTS):
        return None  # Dips of the wiring look like hands on the tubes.
    others_h, others_floor_kpa = _others(look, fell)
    made = Seen(
        fell.begin, round(fell.relax_h, 1), others_h, round(fell.top_kpa, 1), round(fell.floor_kpa, 1), others_floor_kpa
    )
    if any(_goes_on(made, fall) for fall in before[-1:]):
        return None
    seen = [*before, made][-KEPT:]
    look.standing.notes[NOTE] = flat(seen)
    return seen


def _goes_on(made: Seen, fall: Seen) -> bool:
    """Whether it is the fall before, from a later hump of it: it ends where that ended, and was steepest there.

    Or that had not come to rest, and both lie beside one fall of the neighbours: one water makes one fall.
    """
    after_h = made.begin - fall.begin
    same = made.relax_h == fall.relax_h and made.floor_kpa == fall.floor_kpa
    theirs = abs(made.others_floor_kpa - fall.others_floor_kpa) <= SAME_KPA and made.others_h == fall.others_h > 0.0
    return (same and after_h < LONGEST_H) or (theirs and after_h < RESTS * fall.relax_h)


def seen_falls(look: Look) -> list[Seen]:
    """The last falls, the newest last."""
    kept = rows(look.standing.notes.get(NOTE), len(Seen._fields))
    return [Seen(int(begin), *rest) for begin, *rest in kept]


def _others(look: Look, fell: Wane) -> tuple[float, float]:
    """Time constant of the neighbours at its depth in the same wetting, and where they fell to."""
    first = fell.begin - BESIDE_H
    until = min(look.hour, fell.begin + BESIDE_H + LONGEST_H)
    asked = [n for n in look.neighbours.level if look.trusts(n) or is_only_off(look, n)]
    asked = [n for n in asked if _known_share(n, first, until + 1) >= KNOWN]
    if not asked:
        return NOBODY, 0.0
    found = [wane(n.hours, max(first, n.since), fell.begin + BESIDE_H, until) for n in asked]
    fell_too = [one for one in found if one is not None]
    if not fell_too:
        return 0.0, 0.0
    return round(middle([one.relax_h for one in fell_too]), 1), round(middle([one.floor_kpa for one in fell_too]), 1)


def _known_share(other: Standing, begin: int, end: int) -> float:
    return len(known(other.hours.column("mean_kpa", begin, end))) / (end - begin)
