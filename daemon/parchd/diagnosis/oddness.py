"""Whether the raw samples of an hour are like those before them, and what would make them so."""

from typing import NamedTuple

from parchd.diagnosis.byte_turns import TURNS, is_senseless
from parchd.diagnosis.factors import factor_of

EVEN = 2.0
"""A signal may double within an hour and still be one of the same unit."""
SAME = 0.1
SPREAD = 1.2
"""How far the ends of an hour may lie from the factor: soil goes on, and noise is taken along."""
TURNED_ALIKE, NEARER = 0.2, 0.25
BYTES = "bytes"


class Ends(NamedTuple):
    """Lowest and highest raw sample of an hour."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2.0


def oddness(ends: Ends, level: float, *, doubtful: bool = False) -> float | str | None:
    """Say what would make an hour even with the level.

    Args:
        doubtful: there is another sign that the bytes are wrong: half as far from the level is near no more.

    Returns:
        ``None``: it is even; `BYTES`; a factor; an empty word: nothing would.
    """
    if is_senseless(ends.low) or is_senseless(ends.high):
        return BYTES
    if not level:
        return "" if ends != (0.0, 0.0) else None
    off = _off(ends, level)
    doubled = not all(1.0 / EVEN < end / level < EVEN for end in ends)
    if off > SAME * abs(level) and (doubtful or doubled):
        right = put_right(ends, level)
        if right is not None and _off(right, level) < NEARER * off:
            return BYTES
    if not doubled:
        return None
    factor = factor_of(ends.middle / level)
    return factor if factor is not None and all(1.0 / SPREAD < end / level / factor < SPREAD for end in ends) else ""


def _off(ends: Ends, level: float) -> float:
    return max(abs(ends.low - level), abs(ends.high - level))


def put_right(ends: Ends, level: float) -> Ends | None:
    """Turn the bytes of both ends so that they lie next to the level; ``None``: they never do."""
    near = TURNED_ALIKE * abs(level)
    turned = (Ends(turn(ends.low), turn(ends.high)) for turn in TURNS.values())
    return min((one for one in turned if _off(one, level) <= near), key=lambda one: _off(one, level), default=None)
