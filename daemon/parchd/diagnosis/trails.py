"""How far a tensiometer trailed its neighbours in the last wettings, kept in its notes, and what that tells.

A clogged cup trails, and moves as much as it ever did. A gap makes it trail as well, but then it moves less. Soil that
water reaches late is no low pass of other soil, or ever was one.
"""

from collections.abc import Sequence

from parchd.diagnosis.clip_days import is_only_off
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.trail import APART_H, EVERY_H, SLOW_H, SPAN_H, Trail, trail
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look, since

NOTE, KEPT = "response.trails", 10
SOUND, SLOW, MOST = -0.5, 1.0, 4.0
"""Gains from which on a wetting tells of a sound or of a clogged cup, and how much one counts at most."""
TIMES, MOVES, LEFT = 2.0, 0.55, 0.03
"""A clogged cup is so many times slower than it was, moves by so much of what it did, and leaves no more over."""


def follow(look: Look) -> list[Trail] | None:
    """Measure a wetting that can be by now, and keep it; ``None``: there is none."""
    own = look.past("mean_kpa", SPAN_H)
    begin = look.hour - SPAN_H + 1
    found = [
        one
        for near in look.neighbours.level
        if (look.trusts(near) or is_only_off(look, near))
        and (theirs := since(near.hours.column("mean_kpa", begin, look.hour + 1), begin, near.since))
        and (one := trail(own, theirs, look.hour)) is not None
    ]
    before = trails(look)
    if not found or any(found[0].hour - one.hour < APART_H for one in before[-1:]):
        return None
    made = min(found, key=lambda one: one.gain)
    made = made._replace(gain=round(made.gain, 2), slope=round(made.slope, 2), left=round(made.left, 4))
    seen = [*before, made][-KEPT:]
    look.standing.notes[NOTE] = flat(seen)
    return seen


def trails(look: Look) -> list[Trail]:
    """The last wettings, the newest last."""
    kept = rows(look.standing.notes.get(NOTE), len(Trail._fields))
    return [Trail(int(hour), *rest) for hour, *rest in kept]


def told(seen: Sequence[Trail]) -> list[float]:
    """Give for each wetting how much it speaks for a clogged cup, or against one: natural logarithms; 0: neither."""
    sound: list[Trail] = []
    found = []
    for one in seen:
        if one.gain < SOUND:
            sound.append(one)
            found.append(max(one.gain, -MOST))
        else:
            found.append(min(one.gain, MOST) if _is_slow(one, sound) else 0.0)
    return found


def _is_slow(one: Trail, sound: Sequence[Trail]) -> bool:
    if not sound or one.gain < SLOW or one.left > LEFT:
        return False
    tau_h, slope = middle([was.tau_h for was in sound]), middle([was.slope for was in sound])
    return one.tau_h >= max(SLOW_H[0], TIMES * tau_h) and one.slope >= MOVES * slope


__all__ = ["EVERY_H", "Trail", "follow", "told", "trails"]
