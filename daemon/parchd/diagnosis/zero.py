"""A zero that drifts, told by a whole season: what it has come to read too much is the same in wet soil and in dry."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.offset import reads_right
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, is_shallowest
from parchd.diagnosis.zero_record import BLOCK_H, NO_SOIL, record_of, recorded, remember

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import NDArray

    from parchd.diagnosis.zero_weighing import Forms, Kin

    Floats = NDArray[float64]
    Rows = NDArray[bool_]

EVERY_H = 96
LEAST_BLOCKS = 24
ENOUGH_UP, ENOUGH_UP_DEEP, ENOUGH_DOWN, AHEAD = 24.0, 28.0, 12.0, 3.0
"""Natural logarithm: how much likelier a drift must make the season than sound soil, and than a shift."""
LEVEL_SHARE = 0.25
"""Share of it that a neighbour at its depth tells, if there is any: exchanged wires show beside other depths only."""
OFF_KPA, OFF_SHARE, OFF_BLOCKS = 2.0, 0.4, 4
"""From where on it is far enough off to tell, and for how many blocks it must have been."""
WETTED, WETTINGS = 0.45, 2
"""A wetting takes at least a third of the tension; without any since then soil that dries could look the same."""
FREE_KPA, DEEPEST_KPA, BELOW_BLOCKS, WETTER = 0.5, -1.2, 2, 0.4
"""Medians of two days below the first are as good as free water, none lies below the second; and the share of its
lowest tension to which soil may have become wetter."""


class Best(NamedTuple):
    """The drift that explains most.

    Args:
        gain: how much likelier it makes the season, as a natural logarithm.
        rival: the same of the level shift that explains most.
        level: what of the gain the neighbours at its depth tell; all of it where there is none.
        begin_d: day since the first block.
    """

    gain: float
    rival: float
    level: float
    begin_d: float
    rate_kpa_d: float
    off_kpa: float


def watch(look: Look) -> Iterator[Case]:
    """Keep two blocks more, and weigh all that are kept beside the neighbours'."""
    remember(look)
    if look.has(FindingKind.ZERO_DRIFT, *NO_SOIL):
        return
    best = weighed(look)
    if best is None or not _is_plain(best, look) or reads_right(look) or _is_mirrored(look, best):
        return
    record = record_of(look.standing)
    assert record is not None
    begin = record.first * BLOCK_H + round(best.begin_d * 24.0)
    facts = (
        Fact("reads off by now by", best.off_kpa, "kPa"),
        Fact("each day", best.rate_kpa_d, "kPa/day"),
        Fact("days compared with its neighbours", (look.hour - record.first * BLOCK_H) / 24.0),
    )
    yield Case(FindingKind.ZERO_DRIFT, begin * HOUR_US, 0.85, facts)


def _is_plain(best: Best, look: Look) -> bool:
    up = ENOUGH_UP if is_shallowest(look) else ENOUGH_UP_DEEP
    enough = up if best.rate_kpa_d > 0.0 else ENOUGH_DOWN
    return best.gain >= enough and best.gain - best.rival >= AHEAD and best.level >= LEVEL_SHARE * best.gain


def _is_mirrored(look: Look, best: Best) -> bool:
    """Whether rather a neighbour at its depth drifts the other way."""
    for near in look.neighbours.level:
        if look.trusts(near):
            around = look.state.neighbours[near.instrument.channel]
            its = weighed(Look(look.state, near, look.hour, around, near.hours.newest()))
            if its is not None and its.rate_kpa_d * best.rate_kpa_d < 0.0 and its.gain >= best.gain:
                return True
    return False


def weighed(look: Look) -> Best | None:
    """Weigh every drift against sound soil and against a shift; ``None``: too little is known, or none is possible."""
    import numpy as np

    from parchd.diagnosis.zero_weighing import forms

    record, end = record_of(look.standing), (look.hour + 1) // BLOCK_H
    if record is None or end - record.first < LEAST_BLOCKS:
        return None
    first = record.first
    own = recorded(look.standing, first, end)
    days = (np.arange(end - first, dtype=np.float64) + 0.5) * (BLOCK_H / 24.0)
    tried = forms(days)
    possible = _possible(own, tried)
    if not possible.any():
        return None
    told = []
    for kin, weight, others in _beside(look):
        found = [_told(own, recorded(near, first, end), days, kin, tried) for near in others]
        known = [one for one in found if one is not None]
        if known:
            told.append(weight * np.mean(known, axis=0))
        if told and not (told[0][possible] >= LEVEL_SHARE * ENOUGH_DOWN).any():
            return None
    if not told:
        return None
    total, drifts = np.sum(told, axis=0), tried.rate_kpa_d != 0.0
    best = int(np.argmax(np.where(possible, total, -np.inf)))
    return Best(
        float(total[best]), float(total[~drifts].max(initial=0.0)), float(told[0][best]), float(tried.begin_d[best]),
        float(tried.rate_kpa_d[best]), float(tried.kpa[best, -1]),
    )  # fmt: skip


def _told(own: "Floats", theirs: "Floats", days: "Floats", kin: "Kin", tried: "Forms") -> "Floats | None":
    """Give what a neighbour tells of each form; ``None``: too little is known of the two."""
    import numpy as np

    from parchd.diagnosis.zero_weighing import gains

    both = np.isfinite(own) & np.isfinite(theirs)
    if both.sum() < LEAST_BLOCKS:
        return None
    return gains(days[both], own[both], theirs[both], kin, tried.kpa[:, both])


def _beside(look: Look) -> "list[tuple[Kin, float, list[Standing]]]":
    """Give the neighbours that can be trusted, how they are related, and what they count.

    Deeper soil is reached by water that its neighbours above do not tell of.
    """
    from parchd.diagnosis.zero_weighing import BELOW, BESIDE, BESIDE_DEEP

    level = [n for n in look.neighbours.level if look.trusts(n)]
    if not is_shallowest(look):
        return [(BESIDE_DEEP, 1.0, level)]
    below = [n for n in look.neighbours.zone if look.trusts(n) and n not in level]
    return [(BESIDE, 1.0, level), (BELOW, 2.0, below)]


def _possible(own: "Floats", tried: "Forms") -> "Rows":
    """Tell which drifts the readings allow.

    One that leads up leaves no less than free water, and soil not far wetter than it ever was before; and water must
    have come since: soil that only dries could look the same. One that leads down shows where soil is wet, and reads as
    little as free water.
    """
    import numpy as np

    from parchd.diagnosis.zero_weighing import logarithm

    off_kpa, soil_kpa = np.abs(tried.kpa), own - tried.kpa
    late = (off_kpa >= np.maximum(OFF_KPA, OFF_SHARE * off_kpa[:, -1:])) & np.isfinite(own)
    dryness = logarithm(soil_kpa)
    fell = np.zeros(late.shape)
    fell[:, 2:] = np.fmax(dryness[:, 1:-1] - dryness[:, 2:], dryness[:, :-2] - dryness[:, 2:])
    wettings = ((fell >= WETTED) & late).sum(axis=1)
    lowest_kpa = np.where(late, soil_kpa, np.inf).min(axis=1)
    before = (off_kpa == 0.0) & np.isfinite(own)
    least_kpa = DEEPEST_KPA + WETTER * np.where(before, np.maximum(own, 0.0), np.inf).min(axis=1)
    rises, wetted = tried.rate_kpa_d > 0.0, wettings >= WETTINGS
    below = ((own < FREE_KPA) & late).sum(axis=1) >= BELOW_BLOCKS
    allowed = np.where(rises, wetted & (lowest_kpa >= least_kpa), below)
    found: Rows = allowed & (tried.rate_kpa_d != 0.0) & (late.sum(axis=1) >= OFF_BLOCKS)
    return found
