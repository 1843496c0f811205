"""A zero that slides from wetting to wetting, while the neighbours stop where they always do."""

from parchd.diagnosis.falls_seen import seen_falls
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.trends import middle, slope
from parchd.diagnosis.verdict import Case, Look, is_shallowest

FOUND, USUAL = "drift.found", "drift.usual_kpa"
"""Notes: hour of the finding, and where falls used to stop."""

LEAST, MOST = 6, 9
"""Wettings in a row."""
WETTED_KPA, WITHIN_H, SPAN_H = 6.0, 21 * 24, 70 * 24
SLOW_H = 8.0
"""What falls slower stops too high by itself."""
SLID_KPA = 2.5
EVEN_KPA, EVEN_SHARE, THEIRS_KPA = 0.6, 0.2, 1.5
"""How evenly it has slid, and how alike the neighbours' wettings were."""


def slides(look: Look) -> Case | None:
    """Follow where falls stop, beside where the neighbours' do."""
    falls = [one for one in seen_falls(look) if one.others_h > 0.0 and one.others_floor_kpa <= WETTED_KPA][-MOST:]
    falls = [one for one in falls if falls[-1].begin - one.begin <= SPAN_H]
    if len(falls) < LEAST or look.hour - falls[-1].begin > WITHIN_H or not is_shallowest(look):
        return None
    if any(one.relax_h >= SLOW_H for one in falls[-2:]):
        return None
    theirs = [one.others_floor_kpa for one in falls]
    points = [(one.begin / 24.0, one.floor_kpa - one.others_floor_kpa) for one in falls]
    per_day = slope(points)
    middle_kpa = middle([kpa - per_day * day for day, kpa in points])
    moved_kpa = per_day * (points[-1][0] - points[0][0])
    furthest_kpa = max(abs(kpa - per_day * day - middle_kpa) for day, kpa in points)
    if abs(moved_kpa) < SLID_KPA or furthest_kpa > max(EVEN_KPA, EVEN_SHARE * abs(moved_kpa)):
        return None
    if max(theirs) - min(theirs) > THEIRS_KPA:
        return None
    look.standing.notes[FOUND], look.standing.notes[USUAL] = look.hour, falls[0].floor_kpa
    facts = (
        Fact("stops further from its neighbours by", moved_kpa, "kPa"),
        Fact("wettings", len(falls)),
        Fact("each day", per_day, "kPa/day"),
        Fact("the last one from", falls[-1].begin * HOUR_US, "time"),
    )
    return Case(FindingKind.ZERO_DRIFT, falls[0].begin * HOUR_US, 0.8, facts)
