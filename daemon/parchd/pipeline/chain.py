"""What holds for the readings of one tensiometer from one calibration to the next."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from parchd.physics.calibration import Blend, Epoch, Fit, TemperatureEffect, blend, drift_weight, epochs
from parchd.physics.uncertainty import Expanded, age_years, compile_expanded
from parchd.pipeline.setup import TensiometerSetup
from parchd.units import Quantity


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time with one calibration in force.

    Args:
        begin_us: where it begins; the first begins at no time at all.
        label: date of the calibration, empty for the data sheet's line.
        curve: its curve; ``None``: the line of the data sheet holds.
        temperature: what temperature does to the transducer.
        expanded: uncertainty of its readings.
        drift: end of the stretch and the curve of the next, where the correction changes evenly towards it.
    """

    begin_us: int
    label: str
    curve: Fit | None
    temperature: TemperatureEffect | None
    expanded: Expanded
    drift: tuple[int, Fit] | None = None

    def pressure_kpa(self, indicated: Quantity, time_us: Any, transducer_c: Quantity | float | None) -> Quantity:
        """Correct indications, against the transducer's own reference.

        Args:
            time_us: of measurement, one for all or one for each.
            transducer_c: its temperature; ``None``: not known, and not corrected for.
        """
        if self.curve is None:
            return indicated
        return self._curve_at(time_us).reference_kpa(self.at_calibration(indicated, transducer_c))

    def expanded_kpa(self, indicated: Quantity, time_us: Any, transducer_c: Quantity | float | None) -> Quantity:
        """Give the expanded uncertainty of the same readings."""
        expanded = self.expanded
        if expanded.curve is not None and self.drift is not None:
            expanded = replace(expanded, curve=self._curve_at(time_us))
        age: Quantity | float = 0.0
        if expanded.drift_kpa_per_year and self.label:
            age = age_years(time_us, self.begin_us)
        return expanded.kpa(self.at_calibration(indicated, transducer_c), age)

    def at_calibration(self, indicated: Quantity, transducer_c: Quantity | float | None) -> Quantity:
        """Give what would have been indicated at the temperature of the calibration."""
        if self.temperature is None or transducer_c is None:
            return indicated
        zero_kpa = 0.0 if self.curve is None else self.curve.intercept_kpa
        return self.temperature.at_reference_kpa(indicated, transducer_c, zero_kpa)

    def _curve_at(self, time_us: Any) -> Fit | Blend:
        assert self.curve is not None
        if self.drift is None:
            return self.curve
        end_us, following = self.drift
        return blend(self.curve, following, drift_weight(time_us, self.begin_us, end_us))


def stretches(setup: TensiometerSetup) -> tuple[Stretch, ...]:
    """Make the stretches of a tensiometer in order; the first, before any calibration, is the data sheet's line.

    Raises:
        ValueError: a calibration cannot be used; see `parchd.physics.calibration.fit`.
    """
    dated = epochs(setup.calibrations)
    return (Stretch(0, "", None, None, compile_expanded(setup.errors)), *_dated(setup, dated))


def stretch_at(found: Sequence[Stretch], time_us: int) -> Stretch:
    """Give the stretch that holds for a time of measurement."""
    return found[bisect_right(found, time_us, lo=1, key=lambda stretch: stretch.begin_us) - 1]


def _dated(setup: TensiometerSetup, dated: Sequence[Epoch]) -> list[Stretch]:
    made = []
    for number, epoch in enumerate(dated):
        following = dated[number + 1] if number + 1 < len(dated) else None
        errors = replace(setup.errors, curve=epoch.fit, reference_u_kpa=epoch.reference_u_kpa)
        drift = None
        if epoch.calibration.drifts and following is not None:
            drift = (following.calibration.valid_from_us, following.fit)
        begin_us, label = epoch.calibration.valid_from_us, epoch.calibration.label
        made.append(Stretch(begin_us, label, epoch.fit, epoch.temperature, compile_expanded(errors), drift))
    return made
