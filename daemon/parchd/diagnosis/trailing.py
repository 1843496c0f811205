"""Whether a tensiometer has begun to trail its neighbours, kept in its notes."""

from typing import NamedTuple

from parchd.diagnosis.lag import Trail, trail
from parchd.diagnosis.verdict import Look

CHECK_H = 96
NOTE, NEWEST = "response.trail", "response.trail_h"
"""Notes: one letter a check (below), the newest last; the newest time constant, hours."""
PROMPT, OTHER, TRAILS, TRAILS_FAR = "p", "-", "t", "T"

PROMPT_H, PROMPT_LIKENESS = 3, 0.9
TRAILS_H, LIKENESS, GAIN, FAR_GAIN = 6, 0.93, 3.0, 8.0
NEED_PROMPT = 5
"""So many checks must have shown that it could follow."""
NEED, NEED_FAR = 5, 2
"""Checks in a row, and how many of them must be plain."""
KEPT_CHECKS = 24
MOST_NEIGHBOURS = 2


class Trailing(NamedTuple):
    """It trails: by how much, how like, for how many checks."""

    tau_h: int
    likeness: float
    checks: int


def remember_trail(look: Look) -> None:
    """Compare it with the neighbours at its depth; the least trail counts."""
    near = [n for n in look.neighbours.level if look.trusts(n)][:MOST_NEIGHBOURS]
    trails = [found for n in near if (found := trail(look.standing, n, look.hour)) is not None]
    notes = look.standing.notes
    word = notes.get(NOTE)
    letters = word if isinstance(word, str) else ""
    if trails:
        least = min(trails, key=lambda one: (_letter(one) in (TRAILS, TRAILS_FAR), one.gain))
        notes[NEWEST] = [least.tau_h, round(least.likeness, 3)]
        letters += _letter(least)
    else:
        letters += OTHER
    notes[NOTE] = letters[-KEPT_CHECKS:]


def _letter(one: Trail) -> str:
    if one.tau_h <= PROMPT_H:
        return PROMPT if one.likeness > PROMPT_LIKENESS else OTHER
    if one.tau_h >= TRAILS_H and one.likeness >= LIKENESS and one.gain >= GAIN:
        return TRAILS_FAR if one.gain >= FAR_GAIN else TRAILS
    return OTHER


def trailing(look: Look) -> Trailing | None:
    """Judge the last checks."""
    word, newest = look.standing.notes.get(NOTE), look.standing.notes.get(NEWEST)
    if not isinstance(word, str) or not isinstance(newest, list):
        return None
    last = word[-NEED:]
    if word[:-NEED].count(PROMPT) < NEED_PROMPT or any(letter not in (TRAILS, TRAILS_FAR) for letter in last):
        return None
    tau_h, likeness = (one for one in newest if isinstance(one, int | float))
    return Trailing(int(tau_h), float(likeness), NEED) if last.count(TRAILS_FAR) >= NEED_FAR else None
