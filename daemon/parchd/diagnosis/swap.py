"""Two depths of one station that were exchanged: at once each goes on where the other was."""

from collections.abc import Iterable, Iterator

from parchd.diagnosis import frost
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hands import someone_was_there
from parchd.diagnosis.hours import HOUR_US, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.steps import is_step
from parchd.diagnosis.verdict import Case, Look, Over

NEWEST = "swap.hour"
"""Note: hour of the newest exchange."""
SAME_H = 12

LEAST_KPA = 3.0
"""Less apart, two depths cannot be told from each other."""
JUDGED_H = (3, 8)
AGREES_KPA, AGREES_SHARE = 1.0, 0.15
"""How well each must go on where the other was."""
JUMP_SHARE = 0.6
APART_H = 2.5
"""So long lie between what is compared: the soil moves on."""


def watch(look: Look) -> Iterable[Case | Over]:
    """Look for a station's tensiometer that has taken the place of this one; ice moves them as well."""
    leapt = any(_leapt(look.standing, look.hour - delay_h) for delay_h in JUDGED_H)
    return _judge(look) if leapt and not frost.was_cold(look) else ()


def _leapt(standing: Standing, hour: int) -> bool:
    """Whether it jumped at all: seldom."""
    first, second, third, fourth = standing.hours.column("last_kpa", hour - 2, hour + 2)
    least = LEAST_KPA * JUMP_SHARE
    return abs(third - second) >= least or abs(third - first) >= least or abs(fourth - second) >= least


def _judge(look: Look) -> Iterator[Case | Over]:
    swapped, newest = look.has(FindingKind.SWAPPED), look.standing.notes.get(NEWEST, 0)
    known_hour = newest if isinstance(newest, int) else 0
    for other in look.neighbours.station:
        for delay_h in JUDGED_H:
            case = _exchanged(look, other, look.hour - delay_h)
            if case is not None and case.start_us // HOUR_US - known_hour > SAME_H:
                look.standing.notes[NEWEST] = case.start_us // HOUR_US
                yield Over(FindingKind.SWAPPED, case.start_us) if swapped else case
                return


def _exchanged(look: Look, other: Standing, hour: int) -> Case | None:
    """Both jumped at once, in opposite directions, each to where the other had been."""
    own = look.standing
    jump, answer = _jump(own, hour), _jump(other, hour)
    if not (abs(jump) >= LEAST_KPA * JUMP_SHARE and abs(answer) >= LEAST_KPA * JUMP_SHARE and jump * answer < 0.0):
        return None
    a, b = _sides(own, hour, look.hour), _sides(other, hour, look.hour)
    apart_kpa = abs(a[0] - b[0])
    if (
        not apart_kpa >= LEAST_KPA
        or min(abs(jump), abs(answer)) < JUMP_SHARE * apart_kpa
        or hour - 4 < own.since
        or someone_was_there(look, hour)
    ):
        return None
    allowed_kpa = max(AGREES_KPA, AGREES_SHARE * apart_kpa) + APART_H * max(_pace(own, hour), _pace(other, hour))
    if not (abs(a[1] - b[0]) <= allowed_kpa and abs(b[1] - a[0]) <= allowed_kpa):
        return None
    if not (is_step(own, hour, a[1] - a[0]) and is_step(other, hour, b[1] - b[0])):
        return None
    facts = (
        Fact("its vacuum jumped from", a[0], "kPa"),
        Fact("to", a[1], "kPa"),
        Fact("that of the other one jumped from", b[0], "kPa"),
        Fact("then to", b[1], "kPa"),
        Fact("within the hour from", hour * HOUR_US, "time"),
    )
    return Case(FindingKind.SWAPPED, hour * HOUR_US, 0.95, facts, (other.instrument.name,))


def _jump(standing: Standing, hour: int) -> float:
    """The largest change of the last reading over an hour, or over two where a mean may lie half way."""
    first, second, third, fourth = standing.hours.column("last_kpa", hour - 2, hour + 2)
    return max(known((third - second, third - first, fourth - second)), key=abs, default=0.0)


def _pace(standing: Standing, hour: int) -> float:
    """How far it moved within the hour well before."""
    early, late = standing.hours.column("last_kpa", hour - 3, hour - 1)
    return abs(late - early) if late == late and early == early else 0.0


def _sides(standing: Standing, hour: int, now: int) -> tuple[float, float]:
    """What its transducer felt just before and just after an hour: without the correction for its own column."""
    head_kpa = standing.instrument.head_kpa
    before = known(standing.hours.column("last_kpa", hour - 4, hour - 1))
    after = known(standing.hours.column("mean_kpa", hour + 1, now + 1))
    return (before[-1] + head_kpa, after[0] + head_kpa) if before and after else (NAN, NAN)
