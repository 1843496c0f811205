"""The uncertainty budget of one tensiometer at a tension and a time: what `parchd.pipeline.chain` adds up, in parts."""

from bisect import bisect_right
from dataclasses import replace

from parchd.physics.calibration import Blend, Fit, blend, drift_weight, epochs
from parchd.physics.head import head_kpa
from parchd.physics.reference import from_gauge_kpa
from parchd.physics.uncertainty import Budget, Sources, age_years, budget
from parchd.pipeline.setup import TensiometerSetup


def budget_at(setup: TensiometerSetup, tension_kpa: float, time_us: int) -> Budget:
    """Make the budget that a reading of this tension, measured at this time, would have.

    Args:
        setup: its water temperature and the mean pressure of the air at its altitude hold.
        tension_kpa: at the cup.
        time_us: of measurement; the calibration of that time counts.

    Raises:
        ValueError: a calibration cannot be used; see `parchd.physics.calibration.fit`.

    >>> from parchd.testing.site import tensiometer
    >>> round(budget_at(tensiometer("north-30", "a", height_m=0.6), 30.0, 0).expanded_kpa, 2)
    2.89
    """
    sources, age = _in_force(setup, time_us)
    gauge_kpa = 0.0 - tension_kpa - head_kpa(setup.height_m, setup.water_c)
    pressure_kpa = from_gauge_kpa(gauge_kpa, setup.transducer.reference, setup.air_kpa, setup.sealed_at_kpa)
    return budget(sources, _indicated_kpa(sources.curve, pressure_kpa), age)


def _in_force(setup: TensiometerSetup, time_us: int) -> tuple[Sources, float]:
    """Give what is known of the errors at a time, and how many years ago the zero was checked."""
    dated = epochs(setup.calibrations)
    position = bisect_right(dated, time_us, key=lambda epoch: epoch.calibration.valid_from_us) - 1
    if position < 0:
        return setup.errors, 0.0
    epoch, curve = dated[position], None
    begin_us = epoch.calibration.valid_from_us
    if epoch.calibration.drifts and position + 1 < len(dated):
        following = dated[position + 1]
        weight = drift_weight(float(time_us), begin_us, following.calibration.valid_from_us)
        curve = blend(epoch.fit, following.fit, weight)
    known = replace(setup.errors, curve=curve or epoch.fit, reference_u_kpa=epoch.reference_u_kpa)
    return known, age_years(time_us, begin_us)


def _indicated_kpa(curve: Fit | Blend | None, pressure_kpa: float) -> float:
    """Give the indication that the calibration corrects to a pressure."""
    if curve is None:
        return pressure_kpa
    if isinstance(curve, Fit):
        return curve.indicated_kpa(pressure_kpa)
    indicated = curve.before.indicated_kpa(pressure_kpa)
    for _ in range(_STEPS):
        indicated += (pressure_kpa - curve.reference_kpa(indicated)) * curve.slope
    return indicated


_STEPS = 8
"""Each takes away all but some percent of the difference: the two curves of a transducer are nearly parallel."""
