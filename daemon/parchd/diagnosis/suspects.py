"""What a tensiometer would have read with one fault or another, given what the soil around it probably had."""

from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.record import BLOCK_H, DAY

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

LEAK_WEEKS, LEAK_SHARES, LEAK_FROM, LEAK_AT_KPA = (2.0, 4.0), (0.4, 0.65, 0.9, 1.3), 0.1, 20.0
"""Air that comes in at 20 kPa in terms of the water that the cup draws there, from a tenth of it on."""
SLOW_WEEKS, SLOW_H = (2.0, 6.0), (10.0, 20.0, 35.0, 60.0)
LATE_H = (5.0, 10.0, 20.0, 35.0)
"""How late water may come to a station that is as it ever was."""
GAP_KPA, GAP_SHARES, GAP_H, GAP_CLOSES = (8.0, 11.0, 15.0), (0.15, 0.3, 0.45), (12.0, 40.0), 0.8
"""A gap opens at a tension and closes below a share of it; meanwhile the cup follows in part, and late."""
CEILINGS_KPA = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
"""What a cracked cup holds."""
SHIFTS_KPA = (-14.0, -10.0, -7.0, -5.0, -3.5, 3.5, 5.0, 7.0, 10.0, 14.0)
DRIFTS_KPA_D, DRIFTED_KPA = (-0.25, -0.18, -0.12, -0.08, -0.05, 0.05, 0.08, 0.12, 0.18, 0.25), 15.0


class Courses(NamedTuple):
    """Courses of one suspicion: for each begin and for each form that it may take, and a number that tells the form."""

    kpa: "Floats"
    size: tuple[float, ...]


def courses(soil_kpa: "Floats", begins: "Floats", head_kpa: float) -> dict[FindingKind, Courses]:
    """Give the courses of every suspicion.

    Args:
        soil_kpa: by begin, and by the block of six hours.
        begins: days after the first block.
        head_kpa: of the tensiometer's water.
    """
    import numpy as np

    since = np.arange(soil_kpa.shape[1]) / DAY - begins[:, None]
    return {
        FindingKind.AIR_LEAK: _leaks(soil_kpa, since, head_kpa),
        FindingKind.SLOW_RESPONSE: _slow(soil_kpa, since),
        FindingKind.POOR_CONTACT: _gaps(soil_kpa, since),
        FindingKind.CRACKED_CUP: _ceilings(soil_kpa, since),
        FindingKind.LEVEL_SHIFT: _shifts(soil_kpa, since),
        FindingKind.ZERO_DRIFT: _drifts(soil_kpa, since),
    }


def late(soil_kpa: "Floats") -> "Floats":
    """Let water and dryness come late to it, as they ever did."""
    import numpy as np

    return _trailing(soil_kpa, np.broadcast_to(np.array(LATE_H)[:, None], (len(LATE_H), soil_kpa.shape[1]))[None])


def _leaks(soil_kpa: "Floats", since: "Floats", head_kpa: float) -> Courses:
    """Let air in, more from week to week: the drier the soil, the less of its tension is left."""
    import numpy as np

    forms = [(weeks, share) for weeks in LEAK_WEEKS for share in LEAK_SHARES]
    weeks, share = (np.array(column)[:, None] for column in zip(*forms, strict=True))
    grown = np.clip(since[:, None] / (7.0 * weeks), 0.0, 1.0)
    leak = np.where(since[:, None] >= 0.0, share * LEAK_FROM ** (1.0 - grown), 0.0)
    soil = soil_kpa[:, None]
    dryness = (np.maximum(soil, 0.0) / LEAK_AT_KPA) ** 1.5
    return Courses((soil + head_kpa) / (1.0 + leak * dryness) - head_kpa, tuple(form[1] for form in forms))


def _slow(soil_kpa: "Floats", since: "Floats") -> Courses:
    """Let it follow late, ever later."""
    import numpy as np

    forms = slow_forms()
    weeks, hours = (np.array(column)[:, None] for column in zip(*forms, strict=True))
    tau_h = hours * np.clip(since[:, None] / (7.0 * weeks), 0.0, 1.0)
    return Courses(_trailing(soil_kpa, tau_h), tuple(form[1] for form in forms))


def slow_forms() -> list[tuple[float, float]]:
    """Weeks in which a cup clogs, and its time constant then, hours."""
    return [(weeks, hours) for weeks in SLOW_WEEKS for hours in SLOW_H]


def _trailing(soil_kpa: "Floats", tau_h: "Floats") -> "Floats":
    import numpy as np

    share = np.moveaxis(-np.expm1(-BLOCK_H / np.maximum(tau_h, 0.5)), 2, 0)
    soil = soil_kpa.T[:, :, None]
    felt = np.repeat(soil[0], tau_h.shape[1], axis=1)
    out = np.empty((len(soil), *felt.shape))
    for block, kpa in enumerate(soil):
        felt = felt + share[block] * (kpa - felt)
        out[block] = felt
    return np.ascontiguousarray(np.moveaxis(out, 0, 2))


def _gaps(soil_kpa: "Floats", since: "Floats") -> Courses:
    """Let a gap open between cup and soil where that is dry, and close where it is wet."""
    import numpy as np

    forms = [(kpa, share, lag) for kpa in GAP_KPA for share in GAP_SHARES for lag in GAP_H]
    opens_kpa, share, lag_h = (np.array(column) for column in zip(*forms, strict=True))
    pace = -np.expm1(-BLOCK_H / lag_h)
    out = np.repeat(soil_kpa.T[:, :, None], len(forms), axis=2)
    gap, base = np.zeros(out.shape[1:], dtype=np.bool_), np.zeros(out.shape[1:])
    may_be = (since >= 0.0) & (soil_kpa > GAP_CLOSES * min(GAP_KPA))
    for block in range(len(out)):
        if not may_be[:, block].any():
            gap[:] = False
            continue
        kpa, on, felt = out[block], since[:, None, block] >= 0.0, out[max(block - 1, 0)]
        opens = on & ~gap & (kpa > opens_kpa)
        np.maximum(opens_kpa, np.minimum(kpa, felt), out=base, where=opens)
        gap = (gap | opens) & on & (kpa > GAP_CLOSES * base)
        if gap.any():
            out[block] = np.where(gap, felt + (base + share * (kpa - base) - felt) * pace, kpa)
    return Courses(np.ascontiguousarray(np.moveaxis(out, 0, 2)), tuple(form[1] for form in forms))


def _ceilings(soil_kpa: "Floats", since: "Floats") -> Courses:
    """Let it hold no more than a few kilopascals."""
    import numpy as np

    most = np.where(since[:, None] >= 0.0, np.array(CEILINGS_KPA)[:, None], np.inf)
    return Courses(np.minimum(soil_kpa[:, None], most), CEILINGS_KPA)


def _shifts(soil_kpa: "Floats", since: "Floats") -> Courses:
    import numpy as np

    off = np.where(since[:, None] >= 0.0, np.array(SHIFTS_KPA)[:, None], 0.0)
    return Courses(soil_kpa[:, None] + off, SHIFTS_KPA)


def _drifts(soil_kpa: "Floats", since: "Floats") -> Courses:
    import numpy as np

    off = np.maximum(since, 0.0)[:, None] * np.array(DRIFTS_KPA_D)[:, None]
    return Courses(soil_kpa[:, None] + np.clip(off, -DRIFTED_KPA, DRIFTED_KPA), DRIFTS_KPA_D)
