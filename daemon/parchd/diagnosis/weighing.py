"""Which suspicion explains a tensiometer's course best, beside a neighbour's that it used to go with."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.beside import Days, Relation, compared, learn, learn_each, likely, logarithm, steps_of, tension
from parchd.diagnosis.falls_pace import Pace, pace_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.record import DAY, WEIGHED
from parchd.diagnosis.suspects import CEILINGS_KPA, Courses, courses, late

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]
    Rows = NDArray[bool_]

BEGINS_DAYS = 4
"""A fault may have begun on any fourth day,"""
LEARNT_STEPS, LEARNT_WETTINGS, PLENTY_STEPS, SEEN_DAYS, LATELY_DAYS = 24, 2, 40, 7, 28
"""once so many steps and wettings, or plenty of steps, have shown how the two go together; and so many days ago."""
WETTED = -0.3
"""Logarithm: a fall from one day to the next that tells of water."""
BELOW = 0.1
"""Logarithm: no fault of a tube makes it read drier than ground that dries; where it bites it reads wetter by more."""
LEAST_GAP_KPA = 8.0
"""In ground that is wetter a gap is closed, and a cup that has lost contact stays where the gap opened or above."""
LEAST_LEAK_KPA = 6.0
"""In ground that is wetter the cup makes good for the air that comes in: where a leak shows it reads as much."""
HOLDS_KPA = 1.5
"""In drier ground a cracked cup reads what it holds, give or take so much: a cup that reads 10 kPa holds them."""
ASTRAY, BEFORE_DAYS = 0.3, 21
"""Through a clogged cup it comes near what the soil had some hours ago: logarithm, root of the mean square since its
begin, beside how far off it was in so many days before. What stays away from it for days got other water."""
CHANGE_SD = (0.05, 0.10, 0.09)
"""How much what two stations are to each other changes by itself from one part of a season to the next: as sixty sound
pairs of simulated stations did."""


class Evidence(NamedTuple):
    """How well one fault explains a course.

    Args:
        weight: how many times better than sound soil of any kind, or a wrong zero: a natural logarithm.
        begin: days after the first block.
        size: of its form.
        expected_kpa: highest tension of the soil in the last four weeks.
    """

    weight: float
    begin: float
    size: float
    expected_kpa: float


def weigh(
    own: "Floats", near: "Floats", head_kpa: float, falls: Sequence[Pace] = ()
) -> dict[FindingKind, Evidence] | None:
    """Weigh two records of blocks of six hours, NaN where one is not known; ``None``: too little is known.

    Args:
        head_kpa: of the water of the tensiometer's own.
        falls: how fast it fell when water came.
    """
    import numpy as np

    days = compared(own, near)
    begins = _begins(days)
    if not begins:
        return None
    relations = learn_each(days, [(0, begin) for begin in begins])
    soil_kpa = _seen(np.array([tension(days.blocks @ relation.centre) for relation in relations]), days, begins)
    step = np.array([relation.step for relation in relations])
    made = courses(soil_kpa, np.array(begins, dtype=float), head_kpa)
    means = {kind: days.means(logarithm(one.kpa)) for kind, one in made.items()}
    found = {kind: likely(steps_of(days.own - one), days, step[:, None]) for kind, one in means.items()}
    found[FindingKind.SLOW_RESPONSE] += pace_of(falls, begins)
    zero = max(found[FindingKind.LEVEL_SHIFT].max(), found[FindingKind.ZERO_DRIFT].max())
    other = max(float(zero), _sound(days, soil_kpa, step), _changed(days, soil_kpa, relations, begins))
    soil = days.means(logarithm(soil_kpa))
    better = {kind: possible(kind, days, found[kind] - other, means[kind], soil, begins) for kind in WEIGHED}
    return {kind: _evidence(better[kind], made[kind], begins, soil_kpa) for kind in WEIGHED}


def _begins(days: Days) -> list[int]:
    """Days on which a fault may have begun: what came before must have shown how the two dry."""
    import numpy as np

    seen = np.append(0, np.cumsum(days.steps))
    falls = np.append(False, np.diff(days.own) < WETTED)
    wetted = np.cumsum(falls & ~np.append(False, falls[:-1]))
    known = ((seen >= LEARNT_STEPS) & (wetted >= LEARNT_WETTINGS)) | (seen >= PLENTY_STEPS)
    last = len(days.own) - SEEN_DAYS
    return [day for day in range(0, last + 1, BEGINS_DAYS) if known[max(day - 1, 0)]]


def _seen(soil_kpa: "Floats", days: Days, begins: Sequence[int]) -> "Floats":
    """Hold the soil at the driest that was read or expected before each begin: of drier ground nothing was learnt."""
    import numpy as np

    before = days.counted.any(axis=1) & (np.arange(len(days.own)) < np.array(begins)[:, None])
    driest = np.where(before, np.maximum(days.means(logarithm(soil_kpa)), days.own), -np.inf).max(axis=1)
    return np.minimum(soil_kpa, tension(driest)[:, None])


def _likely(days: Days, kpa: "Floats", step: "Floats") -> "Floats":
    """Give how likely courses are, by begin and form."""
    return likely(steps_of(days.own - days.means(logarithm(kpa))), days, step[:, None])


def _sound(days: Days, soil_kpa: "Floats", step: "Floats") -> float:
    """Give how likely the course is with nothing wrong: as it used to be, as all of it tells, or ever as late."""
    import numpy as np

    everything = learn(days, 0, len(days.own))
    whole = likely(steps_of(days.own - days.basis @ everything.centre), days, np.array(everything.step))
    usual, trailing = _likely(days, soil_kpa[:, None], step), _likely(days, late(soil_kpa), step)
    return float(max(whole, usual.max(), trailing.max()))


def _changed(days: Days, soil_kpa: "Floats", relations: Sequence[Relation], begins: Sequence[int]) -> float:
    """Give how likely the course is if the two have become something else to each other, as soils do."""
    import numpy as np

    end, apart = len(days.own), np.diag(np.array(CHANGE_SD) ** 2)
    free = [one._replace(unsure=one.unsure + apart) for one in relations]
    learnt = learn_each(days, [(begin, end) for begin in begins], free)
    after = np.array([one.centre for one in learnt])
    moved = after - np.array([one.centre for one in relations])
    unusual = 0.5 * (moved * np.linalg.solve(np.array([one.unsure for one in free]), moved[:, :, None])[:, :, 0]).sum(
        axis=1
    )
    since = np.arange(soil_kpa.shape[1]) >= DAY * np.array(begins)[:, None]
    kpa = np.where(since, tension(after @ days.blocks.T), soil_kpa)
    step = np.array([one.step for one in relations])
    return float((_likely(days, kpa[:, None], step)[:, 0] - unusual - freedom(relations, free, learnt)).max())


def freedom(relations: Sequence[Relation], free: Sequence[Relation], learnt: Sequence[Relation]) -> "Floats":
    """Give what a free choice of three numbers is worth by itself: it fits any course better, and that is taken off.

    It is the logarithm of how much wider the choice was than what is left of it (Laplace's approximation), beyond what
    it would have been without a change: what was not learnt before is as free with a fault.
    """
    import numpy as np

    before, wide, left = (np.array([one.unsure for one in many]) for many in (relations, free, learnt))
    told, same = np.linalg.inv(left) - np.linalg.inv(wide), np.eye(3)
    found: Floats = 0.5 * (np.linalg.slogdet(same + wide @ told)[1] - np.linalg.slogdet(same + before @ told)[1])
    return found


def _evidence(better: "Floats", made: Courses, begins: Sequence[int], soil_kpa: "Floats") -> Evidence:
    row, form = divmod(int(better.argmax()), better.shape[1])
    expected_kpa = float(soil_kpa[row, -LATELY_DAYS * DAY :].max())
    return Evidence(float(better[row, form]), float(begins[row]), made.size[form], expected_kpa)


def possible(
    kind: FindingKind, days: Days, better: "Floats", means: "Floats", soil: "Floats", begins: Sequence[int]
) -> "Floats":
    """Let forms of a fault count for nothing with which it cannot read what it does on the days they show.

    Args:
        better: by begin and form.
        means, soil: logarithms by begin (means: and by form) and day.
    """
    import numpy as np

    known, day, begin = days.counted.any(axis=1), np.arange(soil.shape[1]), np.array(begins)[:, None]
    if kind is FindingKind.SLOW_RESPONSE:
        before = _mean(days.own - soil, known & (day < begin) & (day >= begin - BEFORE_DAYS))
        astray = _mean((days.own - means - before[:, None, None]) ** 2, (known & (day >= begin))[:, None])
        return np.where(astray <= ASTRAY**2, better, np.minimum(better, 0.0))
    shows = (means - soil[:, None] < -BELOW) & (known & (day >= begin))[:, None]
    can = np.where(shows, (days.own - soil)[:, None], 0.0).sum(axis=-1) < 0.0
    own_kpa = tension(days.own)
    mean_kpa = _mean(own_kpa, shows)
    if kind is FindingKind.AIR_LEAK:
        can &= mean_kpa >= LEAST_LEAK_KPA
    elif kind is FindingKind.POOR_CONTACT:
        can &= mean_kpa >= LEAST_GAP_KPA
    elif kind is FindingKind.CRACKED_CUP:
        most_kpa, held_kpa = np.where(shows, own_kpa, -np.inf).max(axis=-1), np.array(CEILINGS_KPA)
        can &= (mean_kpa >= held_kpa - HOLDS_KPA) & (most_kpa <= held_kpa + HOLDS_KPA)
    found: Floats = np.where(can, better, np.minimum(better, 0.0))
    return found


def _mean(values: "Floats", counted: "Rows") -> "Floats":
    """Take the mean along the last axis of what counts; 0: nothing does."""
    import numpy as np

    found: Floats = np.where(counted, values, 0.0).sum(axis=-1) / np.maximum(counted.sum(axis=-1), 1)
    return found
