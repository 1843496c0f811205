"""What a person reads while calibrating."""

from collections.abc import Iterable, Iterator, Sequence

from parchd.physics.calibration import Fit
from parchd.physics.uncertainty import Sources, budget
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.calibrating import Session
from parchd.workbench.calibrating_judge import Bend, bend, odd_slope
from parchd.workbench.calibrating_reference import Reference
from parchd.workbench.proof_words import HAND_TIGHT, VACUUM

USUAL_KPA = (10.0, 30.0, 60.0)
"""Where the uncertainty is told; those beyond the points give way to the middle and the end of the span."""

HELP = (
    "Type what the reference shows; the signal is taken as soon as it stands still.",
    "u  undo the last point          l  list the points",
    "x 4  leave point 4 out, or take it back in",
    "d  done: fit                    q  stop; points may be kept for later",
)
STEPS_GAUGE = (
    "Join transducer, pump and reference gauge with a tee, short hoses and a valve.",
    (
        "Begin at 0: everything open to the air. Then five steps or more up, as far as the instrument will go, and the "
        "same steps down again; do not turn back within a run."
    ),
    "At each step close the valve, wait, type what the gauge shows.",
)
STEPS_COLUMN = (
    (
        "Fill a clear hose with water, without bubbles. One end goes to the transducer, the other hangs down into a "
        "cup of water: the column is the height of the transducer's port above the water in the cup."
    ),
    "Begin at 0: the water in the cup level with the port. Then lower the cup step by step, and lift it again.",
    "Measure the height straight up, not along the hose.",
)


def steps(reference: Reference) -> tuple[str, ...]:
    return STEPS_COLUMN if reference.is_column else STEPS_GAUGE


def cautions(reference: Reference) -> tuple[str, ...]:
    return () if reference.is_column else (VACUUM, HAND_TIGHT)


def unit_of(setup: TensiometerSetup) -> str:
    return setup.transducer.unit.value


def signal_text(signal: float, setup: TensiometerSetup) -> str:
    """Write a signal with its unit, in as many digits as it has."""
    digits = {"V": 4, "mA": 4, "kPa": 3, "counts": 1}[unit_of(setup)]
    return f"{signal:.{digits}f} {unit_of(setup)}"


def point_line(session: Session, index: int) -> str:
    """One point as a line of the list."""
    point = session.taken[index]
    shown = session.shown_kpa(index)
    marks = [] if point.reading.steady else ["not steady"]
    marks += ["left out"] if index in session.left_out else []
    return (
        f"{index + 1:>3}  {session.runs[index]:<4} {point.vacuum_kpa:>7.2f} kPa  "
        f"{signal_text(point.reading.signal, session.setup):>12}  shows {shown:>z7.2f}  "
        f"{shown - point.vacuum_kpa:>+z7.2f}  {', '.join(marks)}"
    ).rstrip()


def summary(session: Session, fit: Fit, reference: Reference) -> Iterator[str]:
    """What the calibration is, paragraph by paragraph."""
    runs = [session.runs[index] for index in session.used]
    vacuums = [session.taken[index].vacuum_kpa for index in session.used]
    supply = f"; supply {session.supply_v:.3f} V" if session.setup.transducer.needs_supply else ""
    yield (
        f"{fit.n} points, {runs.count('up')} up and {runs.count('down')} down, {min(vacuums):.1f} to "
        f"{max(vacuums):.1f} kPa of vacuum, by {reference.words()}{supply}."
    )
    yield coefficients(fit)
    yield f"{_scatter(session, fit)}"
    yield uncertainty(session, fit, reference)
    if odd := odd_slope(fit):
        yield odd


def coefficients(fit: Fit) -> str:
    """Write the curve, with the standard uncertainty of each coefficient where the points tell it."""
    names = ("a", "b", "c")
    units = (" kPa", "", " /kPa")
    parts = []
    for index, value in enumerate(fit.coefficients):
        u = fit.covariance[index][index] ** 0.5
        doubt = f" (u {u:.2g})" if u > 0.0 else ""
        digits = (".3f", ".5f", ".3e")[index]
        parts.append(f"{names[index]} = {value:+z{digits}}{units[index]}{doubt}")
    curve = "a + b p" if fit.degree == 1 else "a + b p + c p2"
    return f"Indicated = {curve}, p the true pressure (vacuum negative): {', '.join(parts)}."


def uncertainty(session: Session, fit: Fit, reference: Reference) -> str:
    """Tell U of the calibration, its points and the reference together, at three vacuums."""
    parts = []
    sources = Sources(curve=fit, reference_u_kpa=reference.u_kpa, height_half_m=0.0, water_half_c=0.0)
    for vacuum_kpa in _told_at([session.taken[index].vacuum_kpa for index in session.used]):
        made = budget(sources, fit.indicated_kpa(session.own_kpa(vacuum_kpa)))
        parts.append(f"{made.expanded_kpa:.2f} at {vacuum_kpa:g} kPa")
    most = made.largest
    largest = f" ({most.name} makes most of it)" if most is not None else ""
    return f"Uncertainty U (k = 2) of the calibration alone: {', '.join(parts)}{largest}."


def suspect_words(session: Session, fit: Fit, without: Fit) -> str:
    """Name the worst point, and tell what the others say without it."""
    index = fit.suspects[0]
    point = session.taken[index]
    off = abs(point.vacuum_kpa - session.vacuum_kpa(without.reference_kpa(session.points[index][0])))
    return (
        f"Point {index + 1} ({point.vacuum_kpa:.1f} kPa, {session.runs[index]}) does not belong to the others: it is "
        f"{off:.2f} kPa off the line through them. Without it the scatter is {without.s_kpa or 0.0:.2g} kPa instead of "
        f"{fit.s_kpa or 0.0:.2g}, the slope {without.slope:.4f} instead of {fit.slope:.4f}."
    )


def bend_words(session: Session) -> str:
    """Say whether a curve is called for; empty if that is not worth a word."""
    found = bend(session)
    if found is None:
        return "A curve was asked for, but there are too few points to judge it." if session.degree == 2 else ""
    if session.degree == 1:
        return _bent(found) if found.matters else ""
    if found.matters:
        return ""
    why = "chance alone makes as much" if not found.sure else f"it bends by {found.kpa:.2g} kPa only"
    return f"A curve is not called for: {why}. A line does as well, and goes wrong less beyond the points."


def _bent(found: Bend) -> str:
    return (
        f"The points bend by {found.kpa:.2f} kPa, which chance does not make. A curve follows them better (c), if they "
        "lie evenly over the whole range."
    )


def _scatter(session: Session, fit: Fit) -> str:
    offs = {index: abs(fit.residuals_kpa[index]) for index in session.used}
    worst = max(offs, key=offs.__getitem__)
    parts = [f"greatest residual {offs[worst]:.2f} kPa (point {worst + 1})"]
    if fit.s_kpa is not None:
        parts.insert(0, f"scatter {fit.s_kpa:.2g} kPa")
    if fit.hysteresis_kpa is not None:
        parts.append(f"hysteresis {fit.hysteresis_kpa:.2f} kPa")
    if fit.repeatability_kpa is not None:
        parts.append(f"repeatability {fit.repeatability_kpa:.2g} kPa")
    missing = "" if fit.hysteresis_kpa is not None else " No pressure was taken both up and down: hysteresis unknown."
    text = ", ".join(parts)
    return f"{text[0].upper()}{text[1:]}.{missing}"


def _told_at(vacuums: Sequence[float]) -> Iterable[float]:
    low, high = min(vacuums), max(vacuums)
    usual = [kpa for kpa in USUAL_KPA if low <= kpa <= high]
    return usual if len(usual) == len(USUAL_KPA) else [round(low + share * (high - low)) for share in (0.2, 0.5, 1.0)]
