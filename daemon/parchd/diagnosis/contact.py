"""Poor contact is over once the cup has followed its neighbours' drying as well as before, twice in a row."""

from collections.abc import Iterator, Sequence

from parchd.diagnosis.drying import Cycle, cycles, follow, now_going
from parchd.diagnosis.findings import FindingKey
from parchd.diagnosis.hours import hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look, Over

EVERY_H = 24
BASE = "contact.share"
"""Note: share of the neighbours' drying that it followed before."""

LEAST_BASE = 0.6
"""It has shown that it can follow."""
AGAIN_SHARE, AGAIN_CYCLES = 0.85, 2


def watch(look: Look) -> Iterator[Over]:
    """Follow how it dries, and judge the last cycles by those before it lost contact."""
    follow(look)
    if look.has(FindingKind.POOR_CONTACT):
        finding = look.state.findings[FindingKey(FindingKind.POOR_CONTACT, look.instrument.subject)]
        if _follows_again(look, hour_of(finding.start_us), hour_of(finding.found_us)):
            look.standing.notes.pop(BASE, None)
            yield Over(FindingKind.POOR_CONTACT, look.now_us)


def _follows_again(look: Look, lost: int, found: int) -> bool:
    going = now_going(look)
    seen = [*cycles(look), *([going] if going is not None and going.tells else [])]
    base = _base(look, [one for one in seen if one.hour < lost])
    last = [one for one in seen if one.hour - 24 * one.days >= found][-AGAIN_CYCLES:]
    return base > 0.0 and len(last) == AGAIN_CYCLES and all(one.share >= AGAIN_SHARE * base for one in last)


def _base(look: Look, before: Sequence[Cycle]) -> float:
    """What it followed before, remembered while the contact is poor; 0: it never did, or that is not known."""
    kept = look.standing.notes.get(BASE)
    if isinstance(kept, int | float):
        return float(kept)
    base = middle([one.share for one in before]) if before else 0.0
    if base >= LEAST_BASE:
        look.standing.notes[BASE] = round(base, 2)
        return base
    return 0.0
