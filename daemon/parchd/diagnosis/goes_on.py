"""A fall after which all goes on as the day before: water changes the course of a day as well, a shift does not."""

from math import sqrt

from parchd.diagnosis.verdict import Look

DAY_H, LEAST_H = 24, 18
MOVES_SHARE, MOVES_KPA = 0.2, 1.5
"""The day moves by so much, as a share of the step: else there is nothing to compare."""
LIKENESS = 0.97
AS_MUCH, NO_MORE = 0.85, 1.12
"""Wetter soil moves less, about in proportion to its tension; where little water came, it dries again more quickly."""


def goes_on(look: Look, hour: int, size_kpa: float) -> bool:
    """Whether the hours after a fall repeat those of the day before it, moved as far as then."""
    begin = hour - DAY_H - 1
    before = look.standing.hours.column("mean_kpa", begin, hour - 1)
    after = look.standing.hours.column("mean_kpa", hour + 1, look.hour + 1)
    pairs = [(a, b) for a, b in zip(before[2:], after, strict=False) if a == a and b == b]
    if len(pairs) < LEAST_H:
        return False
    own, now = [a for a, _ in pairs], [b for _, b in pairs]
    if max(own) - min(own) < max(MOVES_KPA, MOVES_SHARE * abs(size_kpa)):
        return False
    mean, mean_now = sum(own) / len(own), sum(now) / len(now)
    square = sum((one - mean) ** 2 for one in own)
    square_now = sum((one - mean_now) ** 2 for one in now)
    product = sum((a - mean) * (b - mean_now) for a, b in pairs)
    if not product >= LIKENESS * sqrt(square * square_now):
        return False
    from_kpa = own[-1] if own[-1] > 0.0 else mean
    wetter = max(0.0, 1.0 + size_kpa / max(from_kpa, 0.1))
    return max(AS_MUCH, (1.0 + wetter) / 2.0) <= product / square <= NO_MORE
