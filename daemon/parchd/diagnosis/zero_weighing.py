"""Does a zero that moves explain a season of a tensiometer beside a neighbour's better than the soil alone does?

Two cups are alike in the logarithm of their tensions: a parabola leads from one to the other, what is left of it comes
and goes within weeks, and wanders with the season (a Gaussian process, written down as one covariance). While water
comes or goes fast they part for a few days, for it reaches one first. A zero that has moved adds the same pressure to
all tensions, which changes wet soil's readings most, as a logarithm. Each form of it is taken off the readings; how
likely the rest is tells how well it explains them. Only how the rest is spread counts, not how much there is of it
(Student's t): quiet soil speaks no louder than unquiet soil.
"""

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]
    Rows = NDArray[bool_]

SOFT_KPA = 2.0
"""Below it soils differ by kilopascals, above it by shares."""
CENTRE = 1.6
LIKE_DAYS = 4.0
"""Degrees of freedom of what is known of the scatter beforehand."""
WILD = 3.0

RATES_KPA_D, MOST_KPA = (0.06, 0.09, 0.13, 0.18, 0.24), 15.0
SHIFTS_KPA = (3.0, 5.0, 8.0, 12.0, 18.0)
BEFORE_D, LATEST_D, EVERY_D = 30.0, 10.0, 8.0
"""So long it must have been sound, and drifted; and how closely beginnings are tried."""
SHIFT_BEFORE_D, SHIFT_LATEST_D, SHIFT_EVERY_D = 8.0, 4.0, 4.0


class Kin(NamedTuple):
    """How two cups are usually related, as logarithms.

    Args:
        lone, spell: scatter that is new each time, and that lasts for some days.
        spell_d: how long.
        wander: how far it goes astray in a hundred days.
        usual: how far level, slope and bend of the parabola lie from those of equals.
        hurried: scatter that comes in when the neighbour moves, as a share of its way.
    """

    lone: float
    spell: float
    spell_d: float
    wander: float
    usual: tuple[float, float, float]
    hurried: float


BESIDE = Kin(0.01, 0.125, 26.0, 0.22, (0.2, 0.2, 0.12), 0.13)
BESIDE_DEEP = Kin(0.01, 0.18, 130.0, 0.33, (0.2, 0.35, 0.22), 0.24)
BELOW = Kin(0.03, 0.24, 4.5, 0.18, (0.2, 0.36, 0.22), 0.68)
ABOVE = Kin(0.01, 0.18, 32.0, 0.6, (0.13, 0.68, 0.15), 0.24)
"""Two stations at one depth near the surface, and further down; a cup near the surface beside deeper ones, and a deep
one beside those above. Likeliest for two-day medians of sound simulated cups."""


class Forms(NamedTuple):
    """Ways in which a zero may have moved; one row each.

    Args:
        kpa: what it adds, by the block.
        begin_d: since when.
        rate_kpa_d: how fast; 0: it shifted at once.
    """

    kpa: "Floats"
    begin_d: "Floats"
    rate_kpa_d: "Floats"


def forms(days: "Floats") -> Forms:
    """Give all ways, for blocks in the middle of these days."""
    import numpy as np

    begins = np.arange(days[0] + BEFORE_D, days[-1] - LATEST_D, EVERY_D)
    rates = np.array([sign * rate for rate in RATES_KPA_D for sign in (-1.0, 1.0)])
    begin, rate = (one.ravel() for one in np.meshgrid(begins, rates, indexing="ij"))
    drifts = np.clip(np.maximum(days - begin[:, None], 0.0) * rate[:, None], -MOST_KPA, MOST_KPA)
    shift_begins = np.arange(days[0] + SHIFT_BEFORE_D, days[-1] - SHIFT_LATEST_D, SHIFT_EVERY_D)
    sizes = np.array([sign * size for size in SHIFTS_KPA for sign in (-1.0, 1.0)])
    at, size = (one.ravel() for one in np.meshgrid(shift_begins, sizes, indexing="ij"))
    shifts = np.where(days >= at[:, None], size[:, None], 0.0)
    return Forms(np.vstack([drifts, shifts]), np.concatenate([begin, at]), np.concatenate([rate, 0.0 * at]))


def logarithm(kpa: "Floats") -> "Floats":
    """Take the logarithm of tensions, which goes on as a line below nought."""
    import numpy as np

    found: Floats = np.where(kpa > 0.0, np.log1p(np.maximum(kpa, 0.0) / SOFT_KPA), kpa / SOFT_KPA)
    return found


def gains(days: "Floats", own: "Floats", near: "Floats", kin: Kin, offsets: "Floats") -> "Floats":
    """Tell how much likelier the readings are with each row of offsets than with none, as a natural logarithm."""
    import numpy as np

    like = logarithm(near)
    whiten = np.linalg.inv(np.linalg.cholesky(_covariance(days, like - CENTRE, kin)))
    kpa = own - np.vstack([np.zeros(len(own)), offsets])
    rest = (logarithm(kpa) - like) @ whiten.T
    size = np.abs(rest)
    squares = np.where(size < WILD, size * size, WILD * (2.0 * size - WILD)).sum(axis=1)
    count = len(own)
    density = -np.log(SOFT_KPA + np.maximum(kpa, 0.0)).sum(axis=1)
    likely = density - (LIKE_DAYS + count) / 2.0 * np.log((LIKE_DAYS + squares) / (LIKE_DAYS + count))
    found: Floats = likely[1:] - likely[0]
    return found


def _covariance(days: "Floats", basis: "Floats", kin: Kin) -> "Floats":
    import numpy as np

    apart_d, both_d = np.abs(days[:, None] - days), np.minimum(days[:, None], days) - days[0]
    powers = np.stack([np.ones_like(basis), basis, basis * basis])
    way = np.abs(np.diff(basis))
    moved = np.maximum(np.append(0.0, way), np.append(way, 0.0))
    found: Floats = np.diag(kin.lone**2 + (kin.hurried * moved) ** 2) + kin.spell**2 * np.exp(-apart_d / kin.spell_d)
    found += kin.wander**2 * both_d / 100.0
    found += powers.T @ (np.array(kin.usual)[:, None] ** 2 * powers)
    return found
