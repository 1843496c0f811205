"""A zero that drifts, told by a whole season: what it has come to read too much is the same in wet soil and in dry."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis import zero_check
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.leap_in_doubt import SEASON_H, leap_in_doubt
from parchd.diagnosis.offset import reads_right
from parchd.diagnosis.shift_back import FROM, SIZE
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Case, Look, is_shallowest
from parchd.diagnosis.zero_record import BLOCK_H, FREE_KPA, NO_SOIL, record_of, recorded, remember, without_water_table

if TYPE_CHECKING:
    from numpy import bool_, float64, int_
    from numpy.typing import NDArray

    from parchd.diagnosis.zero_weighing import Forms, Kin

    Floats = NDArray[float64]
    Rows = NDArray[bool_]
    Counts = NDArray[int_]

EVERY_H = 96
LEAST_BLOCKS = 24
ENOUGH_UP, ENOUGH_UP_DEEP = 20.0, 22.0
"""Natural logarithm: how much likelier an upward drift must make the season than sound soil, near the surface and
further down."""
LEAST_UP_KPA = 5.0
"""Soil that becomes drier beside its neighbours, by and by, can look like less of an offset."""
WETTINGS, WETTINGS_DEEP = (2, 3), (3, 6)
"""Wettings since then, at least, and from how many on they count in full, near the surface and further down, where
water may stop short some times: soil that only dries could look the same. The fewer are enough further down, too, where
all but one neighbour would do alone."""
ENOUGH_DOWN, ENOUGH_BELOW = 40.0, 20.0
"""The same of a downward one, and of one that read as little as free water in some blocks."""
SECOND = 3.0
"""What of it all but one neighbour must tell: of two cups alone either may drift, the other way."""
BELOW_BLOCKS, RIVAL_BELOW = 3, 0.85
"""How many; then a shift may explain more, which fits whatever read so at last."""
SUNK, WITHIN_H = "zero.sunk", EVERY_H + 24
"""Note: hour of the last look that showed a downward one; the one before must show it, too: a tube that has just lost
its water looks the same."""
AGAINST = -3.0
"""No neighbour may tell so plainly that there is no drift."""
OFF_KPA, OFF_SHARE, OFF_BLOCKS = 2.0, 0.4, 4
"""From where on it is far enough off to tell, and for how many blocks it must have been."""
WETTED = 0.45
"""A wetting takes at least a third of the tension."""
DEEPEST_KPA, WETTER = -1.2, 0.4
"""No median of two days in sound soil lies below the first; and the share of its lowest tension to which soil may have
become wetter."""
CHECK_SHARE = 3.0
"""A zero that was seen counts by more than what soils tell of it."""
SEEN, ENOUGH_SEEN, RIVAL_SEEN = 10.0, 24.0, 0.85
"""From so much on it is seen to be off; then this is enough. A shift, which leaps, would have been seen before."""
NO_WETTING = (FindingKind.SLOW_RESPONSE, FindingKind.POOR_CONTACT)
"""With these water hardly reaches the cup."""
SAME_WAY = 0.5
"""As plainly as that no two zeros of one depth drift the same way at once."""
LEAPT_SHARE = 0.5
"""Of what it has come to read too little."""
OTHERS, DEEP_SHARE = 2, 0.5
"""So many neighbours at other depths speak for themselves; to deep soil, which water reaches late, they tell half."""


class Best(NamedTuple):
    """The drift that explains most.

    Args:
        gain: how much likelier it makes the season, as a natural logarithm.
        rival: the same of the level shift that explains most.
        voices: what each neighbour tells of the gain.
        begin_d: day since the first block.
        wettings, free: since it is off: falls, and blocks that read as little as free water.
        first: whether it began as early as can be told: soil that dries by and by looks so.
        seen: what services tell of the gain.
    """

    gain: float
    rival: float
    voices: tuple[float, ...]
    begin_d: float
    rate_kpa_d: float
    off_kpa: float
    wettings: int
    free: int
    first: bool
    seen: float = 0.0


class Possible(NamedTuple):
    """What speaks for each form: whether the readings allow it, and see `Best`."""

    allowed: "Rows"
    wettings: "Counts"
    free: "Counts"


def watch(look: Look) -> Iterator[Case]:
    """Keep two blocks more, and weigh all that are kept beside the neighbours'."""
    remember(look)
    zero_check.remember(look)
    if look.has(FindingKind.ZERO_DRIFT, FindingKind.BLOCKED_VENT, *NO_SOIL):
        return  # Behind a blocked vent the weather moves the zero.
    best = weighed(look)
    if best is None or not is_plain(best, shallow=is_shallowest(look)) or reads_right(look) or _is_shared(look, best):
        return
    if best.rate_kpa_d < 0.0 and best.seen < SEEN and not _is_seen_again(look):
        return
    if best.rate_kpa_d > 0.0 and best.seen < SEEN and look.has(*NO_WETTING):
        return  # A cup that water hardly reaches has not come down yet when it goes: it reads ever more at its wettest.
    record = record_of(look.standing)
    assert record is not None
    begin = record.first * BLOCK_H + round(best.begin_d * 24.0)
    facts = [
        Fact("reads off by now by", best.off_kpa, "kPa"),
        Fact("each day", best.rate_kpa_d, "kPa/day"),
        Fact("days compared with its neighbours", (look.hour - record.first * BLOCK_H) / 24.0),
    ]
    if best.seen >= SEEN:
        shown_kpa = max((one.kpa for one in zero_check.checks(look.standing)), key=abs)
        facts.append(Fact("vacuum that it still showed while it stood open", shown_kpa, "kPa"))
    case = Case(FindingKind.ZERO_DRIFT, begin * HOUR_US, 0.85, tuple(facts))
    yield _leapt(look, best, case) or case


def _leapt(look: Look, best: Best, case: Case) -> Case | None:
    """See that it leapt by about as much when that could not be told from water: then it has shifted."""
    leap = leap_in_doubt(look, LEAPT_SHARE * best.off_kpa, SEASON_H) if best.off_kpa < 0.0 else None
    if leap is None:
        return None
    look.standing.notes[SIZE] = leap.kpa
    look.standing.notes.pop(FROM, None)
    fell = (Fact("fell by", -leap.kpa, "kPa"), Fact("within the hour from", leap.hour * HOUR_US, "time"))
    return replace(case, kind=FindingKind.LEVEL_SHIFT, start_us=leap.hour * HOUR_US, facts=(*fell, *case.facts))


def is_plain(best: Best, *, shallow: bool) -> bool:
    """Whether a drift explains a season so well that nothing else needs to be thought of.

    Args:
        shallow: of the shallowest of a station: water reaches it first, and all neighbours tell what comes.
    """
    if min(best.voices) < AGAINST:
        return False
    if best.seen >= SEEN:
        return best.gain >= max(ENOUGH_SEEN, RIVAL_SEEN * best.rival)
    if best.first and not shallow:
        return False
    return _is_plainly_up(best, shallow) if best.rate_kpa_d > 0.0 else _is_plainly_down(best)


def _is_plainly_up(best: Best, shallow: bool) -> bool:
    if _others_tell(best) < SECOND:
        return False
    (least, plenty), enough = (WETTINGS, ENOUGH_UP) if shallow else (WETTINGS_DEEP, ENOUGH_UP_DEEP)
    if _others_tell(best) >= ENOUGH_UP_DEEP:
        least = WETTINGS[0]
    if best.wettings < least or best.gain < best.rival or best.off_kpa < LEAST_UP_KPA:
        return False
    return best.gain * min(best.wettings, plenty) >= enough * plenty


def _is_plainly_down(best: Best) -> bool:
    if _others_tell(best) < SECOND:
        return False
    if best.free >= BELOW_BLOCKS:
        return best.gain >= max(ENOUGH_BELOW, RIVAL_BELOW * best.rival)
    return best.gain >= max(ENOUGH_DOWN, best.rival)


def _others_tell(best: Best) -> float:
    """Give what all but the neighbour that tells most tell: of two alone either may be the one that is off."""
    return best.gain - max(best.voices)


def _is_seen_again(look: Look) -> bool:
    before, look.standing.notes[SUNK] = look.standing.notes.get(SUNK), look.hour
    return isinstance(before, int) and look.hour - before <= WITHIN_H


def _is_shared(look: Look, best: Best) -> bool:
    """Whether rather a neighbour at its depth drifts the other way, or the same way as well: then it is the soil."""
    for near in look.neighbours.level:
        if look.trusts(near):
            around = look.state.neighbours[near.instrument.channel]
            its = weighed(Look(look.state, near, look.hour, around, near.hours.newest()))
            if its is not None and its.gain >= best.gain * (SAME_WAY if its.off_kpa * best.off_kpa > 0.0 else 1.0):
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
    own = without_water_table(look, recorded(look.standing, first, end), first)
    days = (np.arange(end - first, dtype=np.float64) + 0.5) * (BLOCK_H / 24.0)
    tried = forms(days)
    possible = _possible(own, tried)
    if not possible.allowed.any():
        return None
    told = []
    for kin, share, most, others in _beside(look):
        found = [_told(own, recorded(near, first, end), days, kin, tried) for near in others]
        known = [one for one in found if one is not None]
        if known:
            told += [share * min(len(known), most) / len(known) * one for one in known]
    if not told:
        return None
    seen = CHECK_SHARE * zero_check.told(look.standing, days, tried.kpa, first * BLOCK_H)
    total, drifts = np.sum(told, axis=0) + seen, tried.rate_kpa_d != 0.0
    best = int(np.argmax(np.where(possible.allowed, total, -np.inf)))
    return Best(
        float(total[best]), float(total[~drifts].max(initial=0.0)), tuple(float(one[best]) for one in told),
        float(tried.begin_d[best]), float(tried.rate_kpa_d[best]), float(tried.kpa[best, -1]),
        int(possible.wettings[best]), int(possible.free[best]),
        bool(tried.begin_d[best] == tried.begin_d[drifts].min()), float(seen[best]),
    )  # fmt: skip


def _told(own: "Floats", theirs: "Floats", days: "Floats", kin: "Kin", tried: "Forms") -> "Floats | None":
    """Give what a neighbour tells of each form; ``None``: too little is known of the two."""
    import numpy as np

    from parchd.diagnosis.zero_weighing import gains

    both = np.isfinite(own) & np.isfinite(theirs)
    if both.sum() < LEAST_BLOCKS:
        return None
    return gains(days[both], own[both], theirs[both], kin, tried.kpa[:, both])


def _beside(look: Look) -> "list[tuple[Kin, float, int, list[Standing]]]":
    """Give the neighbours that can be trusted, how they are related, what each counts, and how many do at most."""
    from parchd.diagnosis.zero_weighing import ABOVE, BELOW, BESIDE, BESIDE_DEEP

    level = [n for n in look.neighbours.level if look.trusts(n)]
    others = [n for n in look.neighbours.zone if look.trusts(n) and n not in level]
    if is_shallowest(look):
        return [(BESIDE, 1.0, 1, level), (BELOW, 1.0, OTHERS, others)]
    return [(BESIDE_DEEP, 1.0, 1, level), (ABOVE, DEEP_SHARE, OTHERS, others)]


def _possible(own: "Floats", tried: "Forms") -> Possible:
    """Tell which drifts the readings allow.

    One that leads up leaves no less than free water, and soil not far wetter than it ever was before; and water must
    have come since: soil that only dries could look the same.
    """
    import numpy as np

    from parchd.diagnosis.zero_weighing import logarithm

    off_kpa, soil_kpa = np.abs(tried.kpa), own - tried.kpa
    late = (off_kpa >= np.maximum(OFF_KPA, OFF_SHARE * off_kpa[:, -1:])) & np.isfinite(own)
    dryness = logarithm(soil_kpa)
    fell = np.zeros(late.shape)
    fell[:, 2:] = np.fmax(dryness[:, 1:-1] - dryness[:, 2:], dryness[:, :-2] - dryness[:, 2:])
    wettings: Counts = ((fell >= WETTED) & late).sum(axis=1)
    lowest_kpa = np.where(late, soil_kpa, np.inf).min(axis=1)
    before = (off_kpa == 0.0) & np.isfinite(own)
    least_kpa = DEEPEST_KPA + WETTER * np.where(before, np.maximum(own, 0.0), np.inf).min(axis=1)
    upward = (wettings >= WETTINGS[0]) & (lowest_kpa >= least_kpa)
    free: Counts = ((own < FREE_KPA) & late).sum(axis=1)
    allowed: Rows = (upward | (tried.rate_kpa_d < 0.0)) & (tried.rate_kpa_d != 0.0) & (late.sum(axis=1) >= OFF_BLOCKS)
    return Possible(allowed, wettings, free)
