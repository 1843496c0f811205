"""Was somebody at the tubes? Most channels of a source dip at the same time."""

from parchd.diagnosis.hours import known
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look

DIP_KPA, DIP_SHARE = 1.0, 0.25
"""A tube that was opened loses most of its vacuum for minutes."""
BEFORE_H, AFTER_H = 3, 2
LEAST = 2
SHARE = 0.3


def someone_was_there(look: Look, hour: int, before_h: int = BEFORE_H, after_h: int = AFTER_H) -> bool:
    """Whether several tensiometers of the source dipped around an hour, this one left out."""
    others = look.neighbours.source
    dipped = sum(_dipped(other, hour - before_h, hour + after_h) for other in others)
    return dipped >= LEAST and dipped >= SHARE * len(others)


def _dipped(standing: Standing, first: int, last: int) -> bool:
    """Whether it was far lower for an hour or two than just before and soon after."""
    low = standing.hours.column("low_kpa", first - 3, last + 6)
    for at in range(3, 4 + last - first):
        before, after = known(low[at - 3 : at]), known(low[at + 2 : at + 6])
        if before and after and low[at] == low[at]:
            level_kpa = min(max(before), max(after))
            if level_kpa - low[at] > max(DIP_KPA, DIP_SHARE * (level_kpa + standing.instrument.head_kpa)):
                return True
    return False
