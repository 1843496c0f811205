"""A leap down that may have been water, or a hand: what is read months later can still show that it was a shift."""

from typing import NamedTuple

from parchd.diagnosis.hours import known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.rows import flat, rows
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.steps import kpa_before
from parchd.diagnosis.verdict import Look

NOTE = "shift.doubted"
"""Note: hour and size of the last one, and whether it is known by now that it never came back."""
WITHIN_H, SEASON_H = 26 * 24, 150 * 24
BACK_H, BACK_SHARE, DAY_H = 12, 0.5, 24
"""What has come back by so much soon, beyond what the same hours of the day before brought, was a hand, or water that
ran out of a hole."""
NO_LEVEL = (FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP)
"""These leap as well, and are another story."""


class InDoubt(NamedTuple):
    """A leap down that may have been a shift."""

    hour: int
    kpa: float
    stayed: bool


def doubt(look: Look, hour: int, size_kpa: float) -> None:
    """Keep in mind one that cannot be told yet; a rise is none, for nothing but an offset leads up at once."""
    if size_kpa < 0.0:
        _keep(look, InDoubt(hour, round(size_kpa, 2), stayed=False))


def look_back(look: Look) -> None:
    """See once whether it came back, for its hours are forgotten after weeks."""
    leap = _kept(look)
    if leap is None or leap.stayed or look.hour - leap.hour < BACK_H:
        return
    if look.has(*NO_LEVEL) or not _stayed(look.standing, leap.hour, leap.kpa):
        look.standing.notes.pop(NOTE)
    else:
        _keep(look, leap._replace(stayed=True))


def leap_in_doubt(look: Look, least_kpa: float, within_h: int = WITHIN_H) -> InDoubt | None:
    """Give a leap of the last weeks that never came back.

    Args:
        least_kpa: without it no less would be read; below zero.
    """
    leap = _kept(look)
    if leap is None or look.hour - leap.hour > within_h or leap.kpa > least_kpa:
        return None
    return leap if leap.stayed or _stayed(look.standing, leap.hour, leap.kpa) else None


def leap_in_doubt_kpa(look: Look, least_kpa: float, within_h: int = WITHIN_H) -> float:
    """Give the size of such a leap, below zero; 0: there was none."""
    leap = leap_in_doubt(look, least_kpa, within_h)
    return 0.0 if leap is None else leap.kpa


def _kept(look: Look) -> InDoubt | None:
    kept = rows(look.standing.notes.get(NOTE), len(InDoubt._fields))
    return InDoubt(int(kept[0][0]), kept[0][1], bool(kept[0][2])) if kept else None


def _keep(look: Look, leap: InDoubt) -> None:
    look.standing.notes[NOTE] = flat([(leap.hour, leap.kpa, int(leap.stayed))])


def _stayed(standing: Standing, hour: int, size_kpa: float) -> bool:
    """Whether it never came back by half within the hours after it; soil that dries on by day brings nothing back."""
    from_kpa, day_kpa = (kpa_before(standing, one) for one in (hour, hour - DAY_H))
    later = standing.hours.column("last_kpa", hour + 1, hour + BACK_H)
    usual = standing.hours.column("last_kpa", hour + 1 - DAY_H, hour + BACK_H - DAY_H)
    rose = (one - from_kpa - max(0.0, day - day_kpa) for one, day in zip(later, usual, strict=True))
    left = known(rose) or known(one - from_kpa for one in later)
    return bool(left) and max(left) < (1.0 - BACK_SHARE) * size_kpa
