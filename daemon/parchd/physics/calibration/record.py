"""Calibrations of single transducers, each in force from its date on."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from parchd.physics.calibration.curve import Fit, straight
from parchd.physics.calibration.field import rezero, span_check
from parchd.physics.calibration.fitting import fit
from parchd.physics.calibration.points import Direction, Points
from parchd.physics.calibration.temperature import TemperatureEffect

NOMINAL = straight(0.0, 1.0)
"""The data sheet taken at its word."""


class CalibrationKind(StrEnum):
    """What was done, as the configuration writes it."""

    FULL = "full"
    """A calibration in its own right: nothing of an earlier one is left."""
    ZERO = "zero"
    """One known pressure: the curve so far, shifted."""
    SPAN = "span"
    """Two known pressures: the curve so far, with a new offset and slope."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """What one session at the bench or in the field found.

    Args:
        valid_from_us: readings measured from here on are corrected by it, microseconds UTC.
        label: its date as people know it (``YYYY-MM-DD``).
        points: pairs of indicated pressure (by the nominal line of the data sheet) and pressure of the reference, kPa,
            both against the transducer's own reference: negative for vacuum of a gauge, positive of an absolute one.
            They belong to the temperature of the calibration.
        degree: 1 for a line, 2 for a curve.
        runs: "up" or "down" for each point; may be empty.
        left_out: positions of points that are kept on record but not used.
        kind: what was done.
        s_kpa: standard deviation of single indications where it is known from elsewhere; see `fit`.
        reference_u_kpa: standard uncertainty of the reference gauge or column. A zero or span check keeps the greater
            of its own and that of the curve it corrects.
        temperature: what temperature does; ``None``: nothing is known, and a zero or span check keeps what was.
        drifts: from here to the next calibration the correction changes evenly instead of at once.
    """

    valid_from_us: int
    label: str
    points: Points
    degree: int = 1
    runs: tuple[Direction, ...] = ()
    left_out: tuple[int, ...] = ()
    kind: CalibrationKind = CalibrationKind.FULL
    s_kpa: float | None = None
    reference_u_kpa: float = 0.0
    temperature: TemperatureEffect | None = None
    drifts: bool = False

    def fitted(self, before: Fit = NOMINAL) -> Fit:
        """Give its curve.

        Args:
            before: the curve in force until then, which a zero or span check corrects.

        Raises:
            ValueError: see `fit`, `rezero`, `span_check`; or the number of points does not suit the kind.
        """
        if self.kind is CalibrationKind.FULL:
            return fit(self.points, self.degree, self.runs, self.left_out, self.s_kpa)
        wanted = 1 if self.kind is CalibrationKind.ZERO else 2
        if len(self.points) != wanted:
            points = f"{wanted} point{'s' * (wanted - 1)}"
            raise ValueError(f"a check of the {self.kind} takes {points}, not {len(self.points)}")
        if self.kind is CalibrationKind.ZERO:
            return rezero(before, *self.points[0])
        return span_check(before, *self.points)


@dataclass(frozen=True, slots=True)
class Epoch:
    """What holds from a date on, everything earlier taken into account.

    Args:
        calibration: that began it.
        fit: its curve.
        reference_u_kpa: see `Calibration`.
        temperature: see `Calibration`.
    """

    calibration: Calibration
    fit: Fit
    reference_u_kpa: float
    temperature: TemperatureEffect | None


def epochs(calibrations: Iterable[Calibration]) -> tuple[Epoch, ...]:
    """Work out the curves of all calibrations of one transducer, in order of their dates.

    Args:
        calibrations: in any order; of two with the same date the first holds.

    Raises:
        ValueError: see `Calibration.fitted`.

    >>> bench = Calibration(0, "2026-03-01", ((0.5, 0.0), (-79.5, -80.0)))
    >>> field = Calibration(1_000, "2026-07-01", ((0.9, 0.0),), kind=CalibrationKind.ZERO)
    >>> [epoch.fit.reference_kpa(-39.1) for epoch in epochs((field, bench))]
    [-39.6, -40.0]
    """
    firsts = {calibration.valid_from_us: calibration for calibration in reversed(tuple(calibrations))}
    found: list[Epoch] = []
    for _, calibration in sorted(firsts.items()):
        before = found[-1] if found and calibration.kind is not CalibrationKind.FULL else None
        found.append(_epoch(calibration, before))
    return tuple(found)


def in_force(calibrations: Iterable[Calibration], time_us: int) -> Calibration | None:
    """Give the calibration that holds for a time of measurement: the latest that is not younger.

    Args:
        calibrations: in any order; of two with the same date the first holds.

    Returns:
        ``None`` before the first: the nominal line of the data sheet holds.

    >>> spring = Calibration(1_000, "2026-03-01", ((0.2, 0.0),))
    >>> in_force([spring], 999) is None, in_force([spring], 1_000).label
    (True, '2026-03-01')
    """
    begun = (calibration for calibration in calibrations if calibration.valid_from_us <= time_us)
    return max(begun, key=lambda calibration: calibration.valid_from_us, default=None)


def _epoch(calibration: Calibration, before: Epoch | None) -> Epoch:
    if before is None:
        return Epoch(calibration, calibration.fitted(), calibration.reference_u_kpa, calibration.temperature)
    return Epoch(
        calibration,
        calibration.fitted(before.fit),
        max(calibration.reference_u_kpa, before.reference_u_kpa),
        calibration.temperature or before.temperature,
    )
