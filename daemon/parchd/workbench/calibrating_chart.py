"""Residuals of a calibration."""

from collections.abc import Sequence

from parchd.physics.calibration import Direction, Fit
from parchd.workbench.calibrating import Session
from parchd.workbench.chart import Chart, Level, Look, Point, Series, Span

LEAST_KPA = 0.1
_ROOM = 0.04
_CURVE_POINTS = 41
_CHECK_END_KPA = 80.0


def residual_chart(session: Session, fit: Fit, title: str, notes: Sequence[str] = ()) -> Chart:
    """Draw how much more vacuum each point shows than the fit has it; up, down, left out, suspect by shape."""
    off = [(point.vacuum_kpa, 0.0 - fit.residuals_kpa[index]) for index, point in enumerate(session.taken)]
    vacuums = [x for x, _ in off]
    room = _ROOM * max(1.0, max(vacuums) - min(vacuums))
    most = max(LEAST_KPA, *(abs(off[index][1]) for index in session.used)) * 1.1
    off = [(x, max(-most, min(most, y))) for x, y in off]  # a bad point that is left out must not flatten the others
    return Chart(
        title=title,
        x_title="kPa of vacuum",
        y_title="off the fit, kPa (+ shows too much)",
        x=Span(min(vacuums) - room, max(vacuums) + room),
        y=Span(-most, most),
        series=tuple(_series(session, fit, off)),
        levels=(Level(0.0, ""),),
        notes=tuple(notes),
    )


def _series(session: Session, fit: Fit, off: Sequence[Point]) -> list[Series]:
    series = []
    if session.degree == 1 and (bent := _bent(session, fit)):
        series.append(Series(Look.FITTED, bent, "curve through the points"))
    named: tuple[tuple[Look, Direction, str], ...] = ((Look.UP, "up", "up"), (Look.DOWN, "down", "down"))
    for look, run, label in named:
        points = tuple(off[index] for index in session.used if session.runs[index] == run)
        series += [Series(look, points, label)] if points else []
    left_out = tuple(off[index] for index in sorted(session.left_out))
    suspects = tuple(off[index] for index in fit.suspects)
    series += [Series(Look.LEFT_OUT, left_out, "left out")] if left_out else []
    series += [Series(Look.SUSPECT, suspects, "does not belong to the others")] if suspects else []
    return series


def _bent(session: Session, line: Fit) -> tuple[Point, ...]:
    """The best curve, as far as it departs from the line; nothing where there are too few points for one."""
    try:
        curve = session.fitted(degree=2)
    except ValueError:
        return ()
    low, high = curve.span
    at = [high - (high - low) * number / (_CURVE_POINTS - 1) for number in range(_CURVE_POINTS)]
    return tuple((session.vacuum_kpa(own), line.indicated_kpa(own) - curve.indicated_kpa(own)) for own in at)


def check_chart(session: Session, before: Fit, after: Fit, title: str) -> Chart:
    """Draw how far the calibration so far was off, at the points and by the one that takes its place."""
    off = [(p.vacuum_kpa, session.vacuum_kpa(before.reference_kpa(y)) - p.vacuum_kpa)
           for p, (y, _) in zip(session.taken, session.points, strict=True)]  # fmt: skip
    high = max([_CHECK_END_KPA, *(x for x, _ in off)])
    corrected = tuple(
        (x, session.vacuum_kpa(before.reference_kpa(after.indicated_kpa(session.own_kpa(x)))) - x) for x in (0.0, high)
    )
    most = max(LEAST_KPA, *(abs(y) for _, y in (*off, *corrected))) * 1.2
    checked = ", ".join(f"{y:+z.2f} kPa at {x:.1f} kPa" for x, y in off)
    return Chart(
        title=title,
        x_title="vacuum, kPa",
        y_title="off so far, kPa (+ shows too much)",
        x=Span(0.0, high),
        y=Span(-most, most),
        series=(
            Series(Look.LINE, corrected, "what is corrected from now on"),
            Series(Look.UP, tuple(off), "checked"),
        ),
        levels=(Level(0.0, ""),),
        notes=(f"The calibration so far was off by {checked}.",),
    )
