"""Two depths of one station that were exchanged: each goes on where the other was, or behaves as the other should."""

from collections.abc import Iterator

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Fall, Standing
from parchd.diagnosis.trends import days, middle
from parchd.diagnosis.verdict import Case, Look, Over, is_doubted

LEAST_KPA = 3.0
"""Less apart, two depths cannot be told from each other."""
JUDGED_H = (3, 8)
AGREES_KPA, AGREES_SHARE = 1.0, 0.15
"""How well each must go on where the other was."""
JUMP_SHARE = 0.6

SPAN_H = 28 * 24
WETTINGS = 3
FIRST_H = 2
FOLLOWS_H = 96
SWING, RANGE = 1.4, 1.5
LEAST_DAYS = 10
SAME_DEPTH_M = 0.12


def watch(look: Look) -> Iterator[Case | Over]:
    """Look for a station's tensiometer that has taken the place of this one."""
    swapped = look.has(FindingKind.SWAPPED)
    for other in look.neighbours.station:
        for delay_h in JUDGED_H:
            case = _exchanged(look, other, look.hour - delay_h)
            if case is not None:
                yield Over(FindingKind.SWAPPED, case.start_us) if swapped else case
                return


def watch_order(look: Look) -> Iterator[Case]:
    """Compare who answers water first, and whose days are larger, with the depths they should have."""
    if is_doubted(look.state, look.standing):
        return
    for other in look.neighbours.station:
        if not look.trusts(other):
            continue
        if other.instrument.place.depth_m - look.instrument.place.depth_m < 0.0:
            shallow, deep = other, look.standing
        else:
            shallow, deep = look.standing, other
        case = _reversed(look, shallow, deep, other)
        if case is not None:
            yield case
            return


def _exchanged(look: Look, other: Standing, hour: int) -> Case | None:
    """Both jumped at once, in opposite directions, each to where the other had been."""
    own = look.standing
    jump, answer = _jump(own, hour), _jump(other, hour)
    if not (abs(jump) >= LEAST_KPA * JUMP_SHARE and abs(answer) >= LEAST_KPA * JUMP_SHARE and jump * answer < 0.0):
        return None
    a, b = _sides(own, hour, look.hour), _sides(other, hour, look.hour)
    apart_kpa = abs(a[0] - b[0])
    if not apart_kpa >= LEAST_KPA or hour - 4 < own.since or someone_was_there(look, hour):
        return None
    allowed_kpa = max(AGREES_KPA, AGREES_SHARE * apart_kpa)
    if not (abs(a[1] - b[0]) <= allowed_kpa and abs(b[1] - a[0]) <= allowed_kpa):
        return None
    facts = (
        Fact("its vacuum jumped from", a[0], "kPa"),
        Fact("to", a[1], "kPa"),
        Fact(f"that of {other.instrument.name} jumped from", b[0], "kPa"),
        Fact("then to", b[1], "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
    )
    return Case(FindingKind.SWAPPED, hour * HOUR_US, 0.95, facts, (other.instrument.name,))


def _jump(standing: Standing, hour: int) -> float:
    """The largest change of the last reading over an hour or two."""
    first, second, third, fourth = standing.hours.column("last_kpa", hour - 2, hour + 2)
    return max(known((third - second, third - first, fourth - second)), key=abs, default=0.0)


def _sides(standing: Standing, hour: int, now: int) -> tuple[float, float]:
    """What its transducer felt just before and just after an hour: without the correction for its own column."""
    head_kpa = standing.instrument.head_kpa
    before = known(standing.hours.column("last_kpa", hour - 4, hour - 1))
    after = known(standing.hours.column("mean_kpa", hour + 1, now + 1))
    return (before[-1] + head_kpa, after[0] + head_kpa) if before and after else (NAN, NAN)


def _reversed(look: Look, shallow: Standing, deep: Standing, other: Standing) -> Case | None:
    """Water reaches the deep one first, and its days and its drying are the larger ones, for weeks."""
    first = max(look.hour - SPAN_H, shallow.since, deep.since)
    orders = _orders(shallow.falls, deep.falls, first)
    early = [one for one in orders if one <= -FIRST_H]
    if len(early) < WETTINGS or len(early) < 0.75 * len(orders):
        return None
    swings = _swing(shallow, first, look.hour), _swing(deep, first, look.hour)
    ranges = _range(shallow, first, look.hour), _range(deep, first, look.hour)
    if not (swings[1] > SWING * swings[0] and ranges[1] > RANGE * ranges[0]):
        return None
    if not _belies_level(look, shallow, deep, first):
        return None
    facts = (
        Fact("wettings", len(orders)),
        Fact(f"reached {deep.instrument.name}, set up as the deeper one, first", len(early)),
        Fact(f"daily swing of {deep.instrument.name}", swings[1], "kPa"),
        Fact(f"daily swing of {shallow.instrument.name}", swings[0], "kPa"),
    )
    return Case(FindingKind.SWAPPED, first * HOUR_US, 0.8, facts, (other.instrument.name,))


def _orders(shallow: list[Fall], deep: list[Fall], first: int) -> list[int]:
    """By how many hours each fall of the deep one came after the one of the shallow one that belongs to it.

    A water that never reached the shallow one counts as late there.
    """
    orders = []
    for fall in deep:
        if fall.begin < first or fall.size_kpa < LEAST_KPA or not fall.over:
            continue
        near = [one.half_hour - fall.half_hour for one in shallow if abs(one.begin - fall.begin) <= FOLLOWS_H]
        orders.append(-min(near, key=abs) if near else -FOLLOWS_H)
    lonely = [one for one in shallow if one.begin >= first and one.over and one.size_kpa >= LEAST_KPA]
    orders += [FOLLOWS_H for one in lonely if not any(abs(one.begin - fall.begin) <= FOLLOWS_H for fall in deep)]
    return orders


def _swing(standing: Standing, first: int, hour: int) -> float:
    """Median range of a day, less what the day dried."""
    values = standing.hours.column("mean_kpa", first, hour + 1)
    swings = []
    for begin in range(len(values) % 24, len(values) - 24, 24):
        day = known(values[begin : begin + 25])
        if len(day) >= 20:
            swings.append(max(day) - min(day) - abs(day[-1] - day[0]))
    return middle(swings) if len(swings) >= LEAST_DAYS else NAN


def _range(standing: Standing, first: int, hour: int) -> float:
    levels = sorted(known(days(standing.hours.column("mean_kpa", first, hour + 1))))
    return levels[-1 - len(levels) // 10] - levels[len(levels) // 10] if len(levels) >= LEAST_DAYS else NAN


def _belies_level(look: Look, shallow: Standing, deep: Standing, first: int) -> bool:
    """Whether each of the two is more like the neighbours at the other's depth; also where there are none."""
    near = [n for n in look.neighbours.zone if n.instrument.place.station != shallow.instrument.place.station]
    own, cross = 0.0, 0.0
    for one, two in ((shallow, deep), (deep, shallow)):
        for n in near:
            if look.trusts(n):
                own += _apart(one, n, first, look.hour) * _alike(one, n)
                cross += _apart(two, n, first, look.hour) * _alike(one, n)
    return own == cross == 0.0 or cross < 0.8 * own


def _alike(one: Standing, other: Standing) -> float:
    return float(abs(one.instrument.place.depth_m - other.instrument.place.depth_m) <= SAME_DEPTH_M)


def _apart(one: Standing, other: Standing, first: int, hour: int) -> float:
    """Median distance of two tensiometers by the day."""
    pairs = zip(*(days(each.hours.column("mean_kpa", first, hour + 1)) for each in (one, other)), strict=True)
    apart = known(abs(a - b) for a, b in pairs)
    return middle(apart) if len(apart) >= LEAST_DAYS else 0.0
