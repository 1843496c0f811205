"""How the points of a calibration scatter: hysteresis, repeatability, and single bad points."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from parchd.physics.calibration.least_squares import Solution
from parchd.physics.calibration.points import Direction
from parchd.physics.student import t_factor

FALSE_ALARMS = 0.01
"""In how many clean calibrations a point may be named bad."""

LEAST_SUSPECT_KPA = 0.1
"""A point nearer to the curve of the others is never named: a hand gauge cannot be read better."""

_SAME_REFERENCE = 0.02


@dataclass(frozen=True, slots=True)
class Taken:
    """One point: its reference, what it was off the curve (kPa), and its run."""

    reference: float
    residual: float
    run: Direction


def hysteresis_kpa(taken: Sequence[Taken]) -> float | None:
    """Give the greatest difference between runs up and down at one reference; ``None`` without such a pair.

    References within 2 % of the span count as one: what is compared is the distance from the curve.

    Source: hysteresis as in IEC 61298-2 usage, greatest difference of up-scale and down-scale means.

    >>> hysteresis_kpa([Taken(0.0, 0.1, "up"), Taken(-50.0, 0.2, "up"), Taken(-50.0, -0.2, "down")])
    0.4
    """
    differences = [
        abs(fmean(up) - fmean(down))
        for group in _groups(taken)
        if (up := [one.residual for one in group if one.run == "up"])
        and (down := [one.residual for one in group if one.run == "down"])
    ]
    return max(differences, default=None)


def repeatability_kpa(taken: Sequence[Taken]) -> float | None:
    """Give the pooled standard deviation of points taken at one reference in the same direction.

    ``None`` where none was repeated.

    >>> round(repeatability_kpa([Taken(-50.0, 0.1, "up"), Taken(-50.0, -0.1, "up"), Taken(0.0, 0.0, "up")]), 4)
    0.1414
    """
    squares, dof = 0.0, 0
    for group in _groups(taken):
        for run in ("up", "down"):
            same = [one.residual for one in group if one.run == run]
            if len(same) > 1:
                mean = fmean(same)
                squares += math.fsum((residual - mean) ** 2 for residual in same)
                dof += len(same) - 1
    return math.sqrt(squares / dof) if dof else None


def suspects(solution: Solution) -> tuple[int, ...]:
    """Name the points that do not belong to the others, the worst first.

    Each point is compared with the curve of all others (externally studentised residual) and named when less than one
    in a hundred clean calibrations would hold such a point (Bonferroni: the limit grows with the number of points).
    It finds one bad point whatever its size; two that agree with each other may hide each other.

    Returns:
        positions in the solution; nothing where fewer than two degrees of freedom are left.

    Source: Cook and Weisberg 1982, Residuals and Influence in Regression, chapter 2.2.
    """
    s, dof = solution.s, solution.dof
    if s is None or dof < 2:
        return ()
    limit = t_factor(dof - 1, 1.0 - FALSE_ALARMS / len(solution.residuals))
    found = [
        (_studentised(residual, leverage, s, dof), index)
        for index, (residual, leverage) in enumerate(zip(solution.residuals, solution.leverages, strict=True))
        if abs(residual) > LEAST_SUSPECT_KPA * (1.0 - leverage)
    ]
    return tuple(index for size, index in sorted(found, reverse=True) if size > limit)


def _studentised(residual: float, leverage: float, s: float, dof: int) -> float:
    if leverage > 1.0 - 1e-9:
        return 0.0
    internal = residual**2 / (s**2 * (1.0 - leverage))
    others = dof - internal
    return math.inf if others <= 1e-9 * dof else math.sqrt(internal * (dof - 1) / others)


def _groups(taken: Sequence[Taken]) -> list[list[Taken]]:
    """Put points of one reference together."""
    ordered = sorted(taken, key=lambda one: one.reference)
    room = _SAME_REFERENCE * (ordered[-1].reference - ordered[0].reference)
    groups: list[list[Taken]] = []
    for one in ordered:
        if groups and one.reference <= groups[-1][0].reference + room:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups
