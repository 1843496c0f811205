"""Factors between units, and how raw signals wander."""

import math
from collections.abc import Sequence
from itertools import pairwise

from parchd.diagnosis.trends import middle
from parchd.words import noted

PSI_KPA, MMHG_KPA = 6.894757, 0.1333224
"""NIST SP 811, table of conversion factors."""
SIZES = (10.0, 100.0, 1000.0, PSI_KPA, 1.0 / MMHG_KPA)
FACTORS = tuple(factor for size in SIZES for factor in (size, 1.0 / size))
"""Units of pressure and multiples that are mixed up; centimetres of water lie within 2 % of 10."""
CHANGED_BY = noted("numbers changed by the factor")
BESIDE_BOARD = noted("numbers beside those of the same board, times")
BESIDE_NEIGHBOURS = noted("times what its neighbours read")
"""Facts of a wrong unit that tell its factor, the last two more or less."""
ALIKE = 0.08

MOVED_H = 24
MOVES, MOVED_STEPS = 0.02, 6
"""A broken wire gives one and the same signal, give or take half a percent or a code; soil moves more in a day."""


def factor_of(ratio: float, alike: float = ALIKE) -> float | None:
    """Name the factor that a ratio is, give or take 8 %; ``None``: none of them.

    >>> factor_of(9.8), factor_of(3.0), factor_of(-10.0)
    (10.0, None, None)
    """
    if not 0.0 < ratio < math.inf:
        return None
    best = min(FACTORS, key=lambda factor: abs(math.log(ratio / factor)))
    return best if abs(math.log(ratio / best)) < alike else None


def total_change(values: Sequence[float]) -> float:
    """Sum of the steps from one to the next.

    >>> total_change([1.0, 3.0, 2.0])
    3.0
    """
    return sum(abs(after - before) for before, after in pairwise(values))


def moves(lows: list[float], highs: list[float]) -> bool:
    """Whether a raw signal wanders as soil does: a broken wire stays where it is."""
    middles = [(low + high) / 2.0 for low, high in zip(lows, highs, strict=True)]
    if len(middles) < MOVED_H:
        return False
    parts = [middle(middles[begin : begin + 6]) for begin in range(0, len(middles) - 5, 6)]
    return max(parts) - min(parts) > MOVES * abs(middle(parts)) and len({*lows, *highs}) >= MOVED_STEPS
