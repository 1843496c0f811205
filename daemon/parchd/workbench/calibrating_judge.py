"""Whether points make a calibration: what is refused and why, which point is bad, whether a curve is called for."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from parchd.physics.calibration import Fit
from parchd.physics.calibration.least_squares import solve
from parchd.physics.student import t_factor
from parchd.units import KPA_PER
from parchd.workbench.calibrating import Session
from parchd.workbench.calibrating_reference import Reference

LEAST_POINTS = {1: 3, 2: 5}
"""For a line, and for a curve."""
LEAST_REFERENCES = {1: 3, 2: 4}
LEAST_SPAN_KPA = 19.5
"""Two metres of water are 19.6 kPa: what a staircase allows."""
ODD_SLOPE = 0.15
_SAME_REFERENCE = 0.02
_BEND_KPA, _SURE = 0.1, 0.99
_UNIT_ROOM = 0.05


@dataclass(frozen=True, slots=True)
class Bend:
    """How far the points lie on a curve instead of a line.

    Args:
        kpa: greatest distance between the curve and a line.
        sure: whether chance makes such a bend in less than one of a hundred calibrations.
    """

    kpa: float
    sure: bool

    @property
    def matters(self) -> bool:
        return self.sure and self.kpa >= _BEND_KPA


def refusal(session: Session, reference: Reference) -> str:
    """Say why the points make no calibration; empty: they do."""
    used = session.used
    return _too_few(session, used) or _too_narrow(session, used) or _wrong_slope(session, used, reference) or (
        _not_monotone(session, used)
    )  # fmt: skip


def bend(session: Session) -> Bend | None:
    """Judge a curve against a line; ``None``: there are too few points to."""
    if _too_few(session.at_degree(2), session.used):
        return None
    try:
        fit = session.fitted(degree=2)
    except ValueError:
        return None
    c, u_c = fit.coefficients[2], fit.covariance[2][2] ** 0.5
    kpa = abs(c) * (fit.span[1] - fit.span[0]) ** 2 / 8.0
    return Bend(kpa, abs(c) > u_c * t_factor(fit.dof, _SURE))


def odd_slope(fit: Fit) -> str:
    """Point out a slope that a sound transducer on the right line does not have; empty if it is well."""
    if abs(fit.slope - 1.0) <= ODD_SLOPE:
        return ""
    return (
        f"It shows {fit.slope:.3f} kPa for each kPa. That is far from 1: is it the right transducer in the "
        "configuration, with its range and supply, and is the reference read in the right unit? It is corrected anyway."
    )


def _too_few(session: Session, used: Sequence[int]) -> str:
    wanted, different = LEAST_POINTS[session.degree], LEAST_REFERENCES[session.degree]
    what = "line" if session.degree == 1 else "curve"
    if len(used) < wanted:
        more = (
            "; two points say nothing of their own errors. To correct zero and span of the calibration in force with "
            "two points: --check" if session.degree == 1 else ""
        )  # fmt: skip
        return f"a {what} needs {wanted} points or more, not {len(used)}{more}"
    found = len(_groups(session, used))
    if found < different:
        return f"a {what} needs {different} different pressures or more, not {found}"
    return ""


def _too_narrow(session: Session, used: Sequence[int]) -> str:
    vacuums = [session.taken[index].vacuum_kpa for index in used]
    span = max(vacuums) - min(vacuums)
    if span >= LEAST_SPAN_KPA:
        return ""
    return (
        f"the points span {span:.1f} kPa only; 20 kPa (2 m of water) is the least, and better is all that the "
        "instrument will see: an error of 0.1 kPa here would be a multiple of it at the dry end"
    )


def _wrong_slope(session: Session, used: Sequence[int], reference: Reference) -> str:
    slope = solve(tuple(session.points[index] for index in used), 1).coefficients[1]
    if 0.5 <= slope <= 2.0:
        return ""
    if abs(slope) < 0.02:
        return "the signal does not move with the pressure: is this the right channel, and is the port connected?"
    if slope < 0.0:
        return (
            f"the signal goes the other way than it should (slope {slope:.3g}): low_kpa and high_kpa of its transducer "
            "are swapped, or its ports"
        )
    unit = _unit_that_fits(slope, reference)
    guess = f" They would fit a reference in {unit}: was that meant?" if unit else ""
    return (
        f"signal and reference do not belong together: {slope:.3g} kPa are shown for each kPa set, where about 1 is "
        f"expected.{guess} Else look at the transducer's range in the configuration."
    )


def _not_monotone(session: Session, used: Sequence[int]) -> str:
    groups = _groups(session, used)
    for lower, higher in pairwise(groups):
        shown = [sum(session.shown_kpa(index) for index in group) / len(group) for group in (lower, higher)]
        if shown[1] <= shown[0]:
            one, other = session.taken[lower[0]].vacuum_kpa, session.taken[higher[0]].vacuum_kpa
            return (
                f"the vacuum was raised from {one:.1f} to {other:.1f} kPa (points {_numbers(lower)} and "
                f"{_numbers(higher)}), and the signal did not follow. Leave one out, or take them again"
            )
    return ""


def _groups(session: Session, used: Sequence[int]) -> list[list[int]]:
    """Put points of one pressure together, in the order of vacuum."""
    ordered = sorted(used, key=lambda index: session.taken[index].vacuum_kpa)
    vacuums = [session.taken[index].vacuum_kpa for index in ordered]
    room = _SAME_REFERENCE * (vacuums[-1] - vacuums[0]) if vacuums else 0.0
    groups: list[list[int]] = []
    for index in ordered:
        if groups and session.taken[index].vacuum_kpa <= session.taken[groups[-1][0]].vacuum_kpa + room:
            groups[-1].append(index)
        else:
            groups.append([index])
    return groups


def _numbers(group: Sequence[int]) -> str:
    return "/".join(str(index + 1) for index in group)


def _unit_that_fits(slope: float, reference: Reference) -> str:
    """Find the unit in which the numbers that were typed would be right."""
    meant = slope * reference.kpa(1.0)
    columns = {unit: Reference(unit, reference.water_c).kpa(1.0) for unit in ("cm", "in")}
    known = columns if reference.is_column else KPA_PER
    off = {unit: abs(meant / kpa - 1.0) for unit, kpa in known.items() if unit != reference.unit}
    nearest = min(off, key=off.__getitem__)
    return nearest if off[nearest] < _UNIT_ROOM else ""
