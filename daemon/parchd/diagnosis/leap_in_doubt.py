"""A leap down that may have been water, or a hand: what is read weeks later can still show that it was a shift."""

from parchd.diagnosis.hours import known
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.steps import kpa_before
from parchd.diagnosis.verdict import Look

NOTE = "shift.doubted"
"""Note: hour and size of the last one."""
WITHIN_H = 26 * 24
BACK_H, BACK_SHARE, DAY_H = 12, 0.5, 24
"""What has come back by so much soon, beyond what the same hours of the day before brought, was a hand, or water that
ran out of a hole."""


def doubt(look: Look, hour: int, size_kpa: float) -> None:
    """Keep in mind one that cannot be told yet; a rise is none, for nothing but an offset leads up at once."""
    if size_kpa < 0.0:
        look.standing.notes[NOTE] = flat([(hour, round(size_kpa, 2))])


def leap_in_doubt_kpa(look: Look, least_kpa: float) -> float:
    """Size of a leap of the last weeks that never came back.

    Args:
        least_kpa: without it no less would be read; below zero.

    Returns:
        The size, below zero; 0: there was none.
    """
    kept = rows(look.standing.notes.get(NOTE), 2)
    hour, size_kpa = (int(kept[0][0]), kept[0][1]) if kept else (0, 0.0)
    if not kept or look.hour - hour > WITHIN_H or size_kpa > least_kpa:
        return 0.0
    return size_kpa if _stayed(look.standing, hour, size_kpa) else 0.0


def _stayed(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether it never came back by half within the hours after it; soil that dries on by day brings nothing back."""
    from_kpa, day_kpa = (kpa_before(standing, one) for one in (hour, hour - DAY_H))
    later = standing.hours.column("last_kpa", hour + 1, hour + BACK_H)
    usual = standing.hours.column("last_kpa", hour + 1 - DAY_H, hour + BACK_H - DAY_H)
    rose = (one - from_kpa - max(0.0, day - day_kpa) for one, day in zip(later, usual, strict=True))
    left = known(rose) or known(one - from_kpa for one in later)
    return bool(left) and max(left) < (1.0 - BACK_SHARE) * size_kpa
