"""Which suspicion leaves least of a tensiometer's course unexplained, beside a neighbour's that it used to go with."""

from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.beside import Relation, basis_of, tension
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.suspects import Courses, courses

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]
    Rows = NDArray[bool_]

DAY = 4
"""Blocks. Daily ripple says nothing: what is compared are means of a day."""
DEEPEST_KPA, ROOM_KPA = -5.0, 6.0
FARTHEST, MOST_SPREADS = 1.2, 6.0
"""A block lies no further off than so, as a logarithm, and a day no more spreads: openings and their like."""
GAIN_SD, MOST_GAIN = 0.12, 0.2
"""From cycle to cycle one station gets more or less water than the other."""
BENDS, BEND_SD = (0.6, 0.7, 0.8, 0.9, 1.12, 1.25, 1.45), 0.25
LIFTS, LIFT_SD = (-0.3, 0.0, 0.3), 0.2
SPELLS = 7.0
"""What other soil would have to be: it dries more or less in terms of the neighbour's. Four weeks are some seven spells
that stand for themselves, against what is usual."""
GAP_MORE = 0.05
"""A gap has one more number that can be fitted."""
PLAIN = 0.35
"""Below it nothing is wrong: the course lies within what is usual, or other soil explains it."""
OTHER_SOIL = 0.2


class Weighed(NamedTuple):
    """Mean squares that are left, in terms of what is usual.

    Args:
        sound: by the course as it used to go with the neighbour's, or as other soil would make it go.
        left: by each suspicion; empty: none is needed.
        size: of the best form of each.
        expected_kpa: highest tension that the neighbour leads to expect.
        usual: by the course as it used to go, whatever other soil might explain.
    """

    sound: float
    left: dict[FindingKind, float]
    size: dict[FindingKind, float]
    expected_kpa: float
    usual: float


def weigh(own: "Floats", near: "Floats", relation: Relation, head_kpa: float) -> Weighed:
    """Weigh a window of blocks; ``near`` is known throughout, ``own`` has NaN where it is not."""
    import numpy as np

    basis = basis_of(near)
    expected = basis @ relation.centre
    spread = np.sqrt(relation.scatter**2 + np.einsum("ij,jk,ik->i", basis, relation.unsure, basis))
    valid = np.isfinite(own)
    soil_kpa = tension(expected)
    usual = float(_left(own, soil_kpa[None], spread, valid)[0])
    highest_kpa = float(soil_kpa.max())
    if usual <= PLAIN:
        return Weighed(usual, {}, {}, highest_kpa, usual)
    sound = min(usual, _other_soil(own, basis, relation, spread, valid))
    if sound <= OTHER_SOIL:
        return Weighed(sound, {}, {}, highest_kpa, usual)
    left, size = {}, {}
    for kind, suspect in courses(soil_kpa, head_kpa).items():
        left[kind], size[kind] = _best(own, suspect, spread, valid)
    left[FindingKind.POOR_CONTACT] += GAP_MORE
    return Weighed(sound, left, size, highest_kpa, usual)


def _best(own: "Floats", suspect: Courses, spread: "Floats", valid: "Rows") -> tuple[float, float]:
    import numpy as np

    left = _left(own, suspect.kpa, spread, valid)
    best = int(np.argmin(left))
    return float(left[best]), suspect.size[best]


def _other_soil(own: "Floats", basis: "Floats", relation: Relation, spread: "Floats", valid: "Rows") -> float:
    import numpy as np

    lifts, bends = (one.ravel() for one in np.meshgrid(LIFTS, BENDS))
    level, bent = relation.centre[0], basis[:, 1:] @ relation.centre[1:]
    kpa = tension(level + lifts[:, None] + bends[:, None] * bent)
    unusual = ((np.log(bends) / BEND_SD) ** 2 + (lifts / LIFT_SD) ** 2) / SPELLS
    return float((_left(own, kpa, spread, valid) + unusual).min())


def _left(own: "Floats", kpa: "Floats", spread: "Floats", valid: "Rows") -> "Floats":
    """Give for each course what it leaves, one gain for the whole window left open."""
    import numpy as np

    apart = np.log(np.maximum(own, DEEPEST_KPA) + ROOM_KPA) - np.log(np.maximum(kpa, DEEPEST_KPA) + ROOM_KPA)
    apart = np.clip(np.where(valid, apart, 0.0), -FARTHEST, FARTHEST)
    sums = np.cumsum(np.pad(apart, ((0, 0), (1, 0))), axis=1)
    counts = np.cumsum(np.pad(valid.astype(float), (1, 0)))
    known = counts[DAY:] - counts[:-DAY]
    enough = known >= DAY / 2
    days = ((sums[:, DAY:] - sums[:, :-DAY]) / np.maximum(known, 1.0))[:, enough]
    spreads = np.convolve(spread, np.ones(DAY) / DAY, "valid")[enough]
    gain = np.median(days, axis=1) / (1.0 + (np.median(spreads) / GAIN_SD) ** 2 / 3.0)
    gain = np.clip(gain, -MOST_GAIN, MOST_GAIN)
    off = np.minimum(np.abs(days - gain[:, None]) / spreads, MOST_SPREADS)
    left: Floats = (off * off).mean(axis=1) + 0.1 * (gain / GAIN_SD) ** 2
    return left
