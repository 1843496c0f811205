"""What a tensiometer would have read with one fault or another, given what the soil around it probably had."""

from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.beside import BLOCK_H
from parchd.diagnosis.kinds import FindingKind

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

DAY = 24 // BLOCK_H
BEFORE = -40
"""Days: long before the window, so that all is as it will stay."""
LEAK_BEGINS, LEAK_WEEKS, AT_ONCE_WEEKS = (-14, 0, 5, 10, 15, 20, 24), (2, 4), 0.001
LEAK_SHARES, LEAK_FROM, LEAK_AT_KPA = (0.4, 0.65, 0.9, 1.3), 0.1, 20.0
"""Air that comes in at 20 kPa in terms of the water that the cup draws there, from a tenth of it on."""
SLOW_BEGINS, SLOW_WEEKS, SLOW_H = (BEFORE, -14, 0, 5, 10, 15, 20, 24), (2, 6), (8, 16, 32, 60)
GAP_BEGINS, GAP_KPA = (BEFORE, 0, 5, 10, 15, 20, 24), (7.0, 10.0, 14.0)
GAP_SHARES, GAP_H, GAP_CLOSES = (0.1, 0.25, 0.4), (12.0, 36.0), 0.8
"""A gap opens at a tension and closes below a share of it; meanwhile the cup follows in part, and late."""
SHIFT_BEGINS, SHIFTS_KPA = (BEFORE, 0, 5, 10, 15, 20, 24), (-14, -10, -7, -5, -3.5, 3.5, 5, 7, 10, 14)
DRIFT_BEGINS, DRIFTS_KPA_D, DRIFTED_KPA = (-80, -40, -20, 0, 10), (-0.25, -0.18, -0.12, -0.08, -0.05), 15.0


class Courses(NamedTuple):
    """Courses of one suspicion: one row for each form that it may take, and a number that tells the form."""

    kpa: "Floats"
    size: tuple[float, ...]


def courses(soil_kpa: "Floats", head_kpa: float) -> dict[FindingKind, Courses]:
    """Give the courses of every suspicion.

    Args:
        soil_kpa: by the block of six hours.
        head_kpa: of the tensiometer's water.
    """
    return {
        FindingKind.AIR_LEAK: leaks(soil_kpa, head_kpa),
        FindingKind.SLOW_RESPONSE: slow(soil_kpa),
        FindingKind.POOR_CONTACT: gaps(soil_kpa),
        FindingKind.LEVEL_SHIFT: shifts(soil_kpa),
        FindingKind.ZERO_DRIFT: drifts(soil_kpa),
    }


def leaks(soil_kpa: "Floats", head_kpa: float) -> Courses:
    """Let air in, more from week to week: the drier the soil, the less of its tension is left."""
    import numpy as np

    growing = [(begin, float(weeks), share) for begin in LEAK_BEGINS for weeks in LEAK_WEEKS for share in LEAK_SHARES]
    forms = [*growing, *((BEFORE, AT_ONCE_WEEKS, share) for share in LEAK_SHARES)]
    begin, weeks, share = (np.array(column, dtype=float)[:, None] for column in zip(*forms, strict=True))
    day = np.arange(len(soil_kpa)) / DAY
    grown = np.clip((day - begin) / (7.0 * weeks), 0.0, 1.0)
    leak = np.where(day >= begin, share * LEAK_FROM ** (1.0 - grown), 0.0)
    dryness = (np.maximum(soil_kpa, 0.0) / LEAK_AT_KPA) ** 1.5
    return Courses((soil_kpa + head_kpa) / (1.0 + leak * dryness) - head_kpa, tuple(form[2] for form in forms))


def slow(soil_kpa: "Floats") -> Courses:
    """Let it follow late, ever later."""
    import numpy as np

    forms = [(begin, weeks, hours) for begin in SLOW_BEGINS for weeks in SLOW_WEEKS for hours in SLOW_H]
    begin, weeks, hours = (np.array(column, dtype=float)[:, None] for column in zip(*forms, strict=True))
    day = np.arange(len(soil_kpa)) / DAY
    tau_h = hours * np.clip((day - begin) / (7.0 * weeks), 0.0, 1.0)
    share = -np.expm1(-BLOCK_H / np.maximum(tau_h, 0.5))
    felt, out = np.full(len(forms), soil_kpa[0]), np.empty((len(soil_kpa), len(forms)))
    for block, kpa in enumerate(soil_kpa):
        felt = felt + share[:, block] * (kpa - felt)
        out[block] = felt
    return Courses(out.T, tuple(float(form[2]) for form in forms))


def gaps(soil_kpa: "Floats") -> Courses:
    """Let a gap open between cup and soil where that is dry, and close where it is wet."""
    import numpy as np

    forms = [(b, kpa, share, lag) for b in GAP_BEGINS for kpa in GAP_KPA for share in GAP_SHARES for lag in GAP_H]
    begin, opens_kpa, share, lag_h = (np.array(column, dtype=float) for column in zip(*forms, strict=True))
    first, pace = begin * DAY, -np.expm1(-BLOCK_H / lag_h)
    felt, base = np.full(len(forms), soil_kpa[0]), np.zeros(len(forms))
    gap, out = np.zeros(len(forms), dtype=np.bool_), np.empty((len(soil_kpa), len(forms)))
    for block, kpa in enumerate(soil_kpa):
        on = block >= first
        opens = on & ~gap & (kpa > opens_kpa)
        base = np.where(opens, opens_kpa if block == 0 else np.maximum(opens_kpa, np.minimum(kpa, felt)), base)
        gap = (gap | opens) & on & (kpa > GAP_CLOSES * base)
        felt = np.where(gap, felt + (base + share * (kpa - base) - felt) * pace, kpa)
        out[block] = felt
    return Courses(out.T, tuple(form[2] for form in forms))


def shifts(soil_kpa: "Floats") -> Courses:
    import numpy as np

    forms = [(begin, kpa) for begin in SHIFT_BEGINS for kpa in SHIFTS_KPA]
    begin, kpa = (np.array(column, dtype=float)[:, None] for column in zip(*forms, strict=True))
    day = np.arange(len(soil_kpa)) / DAY
    return Courses(soil_kpa + np.where(day >= begin, kpa, 0.0), tuple(form[1] for form in forms))


def drifts(soil_kpa: "Floats") -> Courses:
    import numpy as np

    rates = (*DRIFTS_KPA_D, *(-rate for rate in DRIFTS_KPA_D))
    forms = [(begin, rate) for begin in DRIFT_BEGINS for rate in rates]
    begin, rate = (np.array(column, dtype=float)[:, None] for column in zip(*forms, strict=True))
    day = np.arange(len(soil_kpa)) / DAY
    off = np.clip(np.maximum(day - begin, 0.0) * rate, -DRIFTED_KPA, DRIFTED_KPA)
    return Courses(soil_kpa + off, tuple(form[1] for form in forms))
