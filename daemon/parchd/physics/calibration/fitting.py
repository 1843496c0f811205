"""From points to a curve."""

import math
from collections.abc import Sequence

from parchd.physics.calibration.curve import Fit
from parchd.physics.calibration.least_squares import Solution, solve
from parchd.physics.calibration.points import Direction, Points, check_numbers, check_span, kept
from parchd.physics.calibration.scatter import Taken, hysteresis_kpa, repeatability_kpa, suspects


def fit(
    points: Points,
    degree: int = 1,
    runs: Sequence[Direction] = (),
    without: Sequence[int] = (),
    s_kpa: float | None = None,
) -> Fit:
    """Fit a line or a curve through calibration points.

    One point gives an offset, two an exact line, more an ordinary least-squares fit of what was indicated (which
    carries the error) on what the reference said; it is inverted for use. The nominal line of a transducer is straight,
    so that this is the same as a fit of the voltages themselves.

    Args:
        points: pairs of indicated and reference pressure, kPa, both against the transducer's own reference.
        degree: 1 for a line, 2 for a curve.
        runs: for each point whether the vacuum was growing ("up") or shrinking ("down"); see `directions`. Empty:
            nothing is said of hysteresis and repeatability.
        without: positions of points to leave out, from 0.
        s_kpa: standard deviation of single indications, where it is known from elsewhere: then few points do.

    Raises:
        ValueError: no points; a number beyond 300 kPa or not finite; references that span less than 1 kPa, or too few
            different ones; a slope outside 0.5 to 2; a curve that is not monotone; runs that do not fit the points.

    >>> fit(((0.4, 0.0),)).reference_kpa(-39.6)
    -40.0
    >>> fit(((0.5, 0.0), (-79.5, -80.0))).reference_kpa(-29.5)
    -30.0
    """
    check_numbers(points)
    if degree not in (1, 2):
        raise ValueError(f"a calibration is of degree 1 or 2, not {degree}")
    if runs and len(runs) != len(points):
        raise ValueError(f"{len(points)} calibration points need as many runs, not {len(runs)}")
    used = kept(points, without)
    chosen = tuple(points[index] for index in used)
    if len(chosen) == 1 and degree == 1:
        return _offset(points, chosen[0], tuple(without), s_kpa)
    check_span(chosen, degree)
    solution = solve(chosen, degree)
    _check_slope(solution, chosen)
    return _assembled(points, solution, used, runs, s_kpa)


def _offset(points: Points, point: tuple[float, float], left_out: tuple[int, ...], s_kpa: float | None) -> Fit:
    offset = point[0] - point[1]
    variance = 0.0 if s_kpa is None else s_kpa**2
    residuals = tuple(y - x - offset for y, x in points)
    dof = 0.0 if s_kpa is None else math.inf
    covariance = ((variance, 0.0), (0.0, 0.0))
    span = (point[1], point[1])
    return Fit((offset, 1.0), covariance, s_kpa, 1, dof, span, left_out=left_out, residuals_kpa=residuals)


def _assembled(
    points: Points, solution: Solution, used: tuple[int, ...], runs: Sequence[Direction], known_s: float | None
) -> Fit:
    s = solution.s if known_s is None else known_s
    references = [points[index][1] for index in used]
    covariance = tuple(tuple(value * (s or 0.0) ** 2 for value in row) for row in solution.unit_covariance)
    taken = [
        Taken(points[index][1], residual, runs[index])
        for index, residual in zip(used if runs else (), solution.residuals, strict=False)
    ]
    a, b, c = (*solution.coefficients, 0.0)[:3]
    return Fit(
        coefficients=solution.coefficients,
        covariance=covariance,
        s_kpa=s,
        n=len(used),
        dof=float(solution.dof) if known_s is None else math.inf,
        span=(min(references), max(references)),
        hysteresis_kpa=hysteresis_kpa(taken) if taken else None,
        repeatability_kpa=repeatability_kpa(taken) if taken else None,
        suspects=tuple(used[index] for index in suspects(solution)),
        left_out=tuple(index for index in range(len(points)) if index not in used),
        residuals_kpa=tuple(y - a - x * (b + c * x) for y, x in points),
    )


def _check_slope(solution: Solution, chosen: Points) -> None:
    references = [reference for _, reference in chosen]
    _, slope, bend = (*solution.coefficients, 0.0)[:3]
    slope += bend * (min(references) + max(references))
    if not 0.5 <= slope <= 2.0:
        raise ValueError(
            f"the calibration line has a slope of {slope:.3g} where about 1 is expected: "
            "are the units of both columns kPa, is vacuum negative in both, and is the transducer's polarity right?"
        )
