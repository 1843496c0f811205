"""Falls of tension: where they began, how deep they went, and whether water explains them."""

from parchd.diagnosis.hours import known
from parchd.diagnosis.standing import KEPT_FALLS, Fall, Standing
from parchd.diagnosis.verdict import Look

LEAST_KPA, SHARE = 1.2, 0.08
"""A fall is more than the daily swing: so much within the windows below, beyond what yesterday did at that hour."""
NEW_LOW_KPA, NEW_LOW_SHARE = 0.4, 0.03
"""It leads below everything of the day before."""
UNSEEN_SHARE = 0.25
"""What the daily swing may be where yesterday is not known."""
SWINGS = 1.3
"""A neighbour tells of water if it fell by more than the swing of a calm day."""
WINDOWS_H = (1, 2, 3, 6, 12, 24)
BACK_H = 18
REST_H = 6
"""So long after the lowest point of the fall before it does not count as low any more."""
STEEP_SHARE = 0.04
QUIET_H = 10
LONGEST_H = 144
SAME_KPA = 0.3

BEFORE_H, AFTER_H, FRONT_H_PER_M = 24, 12, 60
"""Water that reached a neighbour so long before or after explains a fall; the deeper, the later it comes."""
TELLING_SHARE = 0.15
ALONE_H = 14
PATIENCE_H = 72
BACK_SHARE = 0.5
SERVICE = "service"
"""What explains the fall of a tube that was opened; it tells of no water."""


def watch(look: Look) -> None:
    """Find falls and follow them, in the tensiometer's standing."""
    standing = look.standing
    now_kpa = look.now.mean_kpa
    if now_kpa == now_kpa:
        fall = standing.falls[-1] if standing.falls else None
        if fall is not None and not fall.over:
            _follow(fall, look, now_kpa)
        elif (begun := _begin(look, now_kpa)) is not None:
            standing.falls = [*standing.falls, begun][-KEPT_FALLS:]
    for fall in standing.falls[-2:]:
        if fall.explained is None:
            _explain(look, fall)


def _begin(look: Look, now_kpa: float) -> Fall | None:
    """See whether tension has gone down more than the day explains; find where it began."""
    past = look.past("mean_kpa", 50)
    falls = look.standing.falls
    longest = look.hour - falls[-1].low_hour if falls else 2 * BACK_H
    for window in WINDOWS_H:
        if window > longest:
            break
        before_kpa = past[-1 - window]
        if before_kpa != before_kpa:
            before_kpa = _last_known(past, window)
        drop_kpa = before_kpa - now_kpa
        if not drop_kpa >= LEAST_KPA or drop_kpa < SHARE * before_kpa:
            continue
        least_kpa = max(LEAST_KPA, SHARE * before_kpa)
        yesterday, day_before = past[-25], past[-25 - window]
        seen = yesterday == yesterday and day_before == day_before
        seen = seen and not (falls and falls[-1].begin - 1 <= look.hour - 24 <= falls[-1].low_hour + window)
        usual_kpa = min(0.0, yesterday - day_before) if seen else -UNSEEN_SHARE * before_kpa
        if drop_kpa + usual_kpa < least_kpa:
            continue
        day = min(window + 25, max(window + 1, longest - REST_H))
        low_kpa = min(known(past[-day:-window]), default=before_kpa)
        if now_kpa < low_kpa - max(NEW_LOW_KPA, NEW_LOW_SHARE * low_kpa):
            return _dated(look, now_kpa)
    return None


def swing_kpa(standing: Standing, hour: int) -> float:
    """What tension went up and down in a day before an hour, without the trend: the calmer of two days."""
    return min(_range_kpa(standing, hour - 24), _range_kpa(standing, hour - 48))


def steady_swing_kpa(standing: Standing, hour: int) -> float:
    """The same, whatever the last of those days brought: a fall that had begun before may hide it."""
    return max(swing_kpa(standing, one) for one in (hour - 24, hour))


def _range_kpa(standing: Standing, begin: int) -> float:
    values = known(standing.hours.column("mean_kpa", begin, begin + 24))
    return max(values) - min(values) - abs(values[-1] - values[0]) if len(values) > 12 else 0.0


def _last_known(past: list[float], window: int) -> float:
    """The value so many hours ago, or the last one before, up to a day earlier."""
    for value in reversed(past[-1 - window - 24 : len(past) - window]):
        if value == value:
            return value
    return float("nan")


def _dated(look: Look, now_kpa: float) -> Fall:
    """Go back over the steep part to where it began."""
    falls = look.standing.falls
    first = max(look.hour - BACK_H, falls[-1].low_hour if falls else 0)
    past = look.past("mean_kpa", look.hour - first, until=look.hour - 1)
    earlier = [(first + number, value) for number, value in enumerate(past) if value == value]
    earlier = earlier or [(look.hour - 1, look.past("mean_kpa", 50)[-2])]
    size_kpa = max(value for _, value in earlier) - now_kpa
    begin, from_kpa = look.hour - 1, now_kpa
    later_kpa = now_kpa
    steepest_kpa = 0.0
    for number, value in reversed(earlier):
        if value < later_kpa + STEEP_SHARE * size_kpa and from_kpa > now_kpa + 0.5 * size_kpa:
            break
        steepest_kpa = max(steepest_kpa, value - later_kpa)
        begin, from_kpa, later_kpa = number, max(from_kpa, value), value
    return Fall(begin, from_kpa, now_kpa, look.hour, steepest_kpa, look.hour)


def _follow(fall: Fall, look: Look, now_kpa: float) -> None:
    before_kpa = look.standing.hours.at("mean_kpa", look.hour - 1)
    if before_kpa == before_kpa:
        fall.steepest_kpa = max(fall.steepest_kpa, before_kpa - now_kpa)
    if now_kpa < fall.low_kpa - SAME_KPA:
        if now_kpa > (fall.from_kpa + fall.low_kpa) / 2 or fall.from_kpa - now_kpa > 2 * fall.size_kpa:
            fall.half_hour = look.hour
        fall.low_kpa, fall.low_hour = now_kpa, look.hour
    elif now_kpa < fall.low_kpa:
        fall.low_kpa = now_kpa
    fall.over = look.hour - fall.low_hour >= QUIET_H or look.hour - fall.begin >= LONGEST_H


def _explain(look: Look, fall: Fall) -> None:
    """Decide whether water explains a fall: it reached a neighbour, or, without one, it looks like water."""
    age_h = look.hour - fall.begin
    alone = age_h >= ALONE_H and not witnesses(look) and _looks_like_water(look, fall)
    if wetted_neighbours(look, fall):
        fall.explained, fall.why = True, "neighbours"
    elif alone or (fall.over and (_came_back(look, fall) or (age_h >= PATIENCE_H and _dries_again(look, fall)))):
        fall.explained, fall.why = True, "behaviour"


def witnesses(look: Look) -> list[Standing]:
    """Neighbours of the zone that are trusted and have delivered in the last hours."""
    return [n for n in look.neighbours.zone if look.trusts(n) and look.hour - n.hours.end < 6]


def wetted_neighbours(look: Look, fall: Fall) -> list[Standing]:
    """Trusted neighbours that water reached about then.

    Where one at the same depth stayed dry, only what fell within hours counts: a front does not dawdle at one spot.
    """
    depth_m = look.instrument.place.depth_m
    seen = witnesses(look)
    wetted = [n for n in seen if _fell(n, fall, depth_m)]
    level = [n for n in seen if n in look.neighbours.level]
    if wetted and level and not any(n in wetted for n in level):
        return [n for n in wetted if any(abs(f.begin - fall.begin) <= AFTER_H and is_quick(f) for f in n.falls[-6:])]
    return wetted


def _fell(neighbour: Standing, fall: Fall, depth_m: float) -> bool:
    deeper_m = max(0.0, depth_m - neighbour.instrument.place.depth_m)
    earliest = fall.begin - BEFORE_H - FRONT_H_PER_M * deeper_m
    latest = fall.begin + AFTER_H + FRONT_H_PER_M * max(0.0, neighbour.instrument.place.depth_m - depth_m) / 2
    near = (other for other in neighbour.falls[-6:] if earliest <= other.begin <= latest and other.why != SERVICE)
    return any(is_quick(other) and other.size_kpa >= _telling_kpa(neighbour, other, fall) for other in near)


def _telling_kpa(neighbour: Standing, other: Fall, fall: Fall) -> float:
    """So much a neighbour must have fallen to tell of the water that made the fall."""
    least_kpa = max(1.0, 0.08 * other.from_kpa, TELLING_SHARE * fall.size_kpa)
    return least_kpa if other.size_kpa < least_kpa else max(least_kpa, SWINGS * swing_kpa(neighbour, other.begin))


def is_quick(fall: Fall) -> bool:
    """Whether half of it took a few hours, as water does; air that leaks in takes longer."""
    return fall.half_hour - fall.begin <= 12


def _looks_like_water(look: Look, fall: Fall) -> bool:
    instrument = look.instrument
    if not is_quick(fall) or fall.from_kpa >= 0.85 * instrument.limit_kpa:
        return False
    recent = known(look.past("mean_kpa", 4))
    return bool(recent) and min(recent) > -1.5 - 0.2 * instrument.head_kpa and look.hour - fall.low_hour >= 3


def _came_back(look: Look, fall: Fall) -> bool:
    """It rose by half of what it fell: an empty or leaking tube does not."""
    recent = known(look.past("mean_kpa", 3))
    return len(recent) == 3 and min(recent) > fall.low_kpa + BACK_SHARE * fall.size_kpa


def _dries_again(look: Look, fall: Fall) -> bool:
    recent = known(look.past("mean_kpa", 24))
    low_kpa = fall.low_kpa
    return (
        bool(recent)
        and min(recent) > low_kpa - SAME_KPA
        and sum(recent) / len(recent) > low_kpa + max(1.0, 0.1 * fall.size_kpa)
    )
