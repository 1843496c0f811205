"""The uncertainty budget of one tensiometer at a tension and a time: what `parchd.pipeline.chain` adds up, in parts."""

from bisect import bisect_right
from dataclasses import dataclass, replace

from parchd.physics.calibration import Blend, Fit, blend, drift_weight, epochs
from parchd.physics.head import head_kpa
from parchd.physics.reference import from_gauge_kpa
from parchd.physics.uncertainty import Budget, Sources, age_years, budget
from parchd.pipeline.setup import TensiometerSetup

_STEPS = 8
"""Each takes away all but some percent of the difference: the two curves of a transducer are nearly parallel."""


@dataclass(frozen=True, slots=True)
class InForce:
    """What holds for a tensiometer at a time.

    Args:
        sources: of its errors, with the calibration that is in force.
        label: date of that calibration; empty: the data sheet's line.
        age_years: since it was made.
    """

    sources: Sources
    label: str = ""
    age_years: float = 0.0


@dataclass(frozen=True, slots=True)
class TensionBudget:
    """The budget of a tension, and what it rests on.

    Args:
        in_force: calibration and errors of the time.
        budget: all contributions.
        beyond_span: the pressure lies where the calibration has no points.
    """

    in_force: InForce
    budget: Budget
    beyond_span: bool


def budget_at(setup: TensiometerSetup, tension_kpa: float, time_us: int) -> TensionBudget:
    """Make the budget that a reading of this tension, measured at this time, would have.

    Args:
        setup: its water temperature and the mean pressure of the air at its altitude hold.
        tension_kpa: at the cup.
        time_us: of measurement; the calibration of that time counts.

    Raises:
        ValueError: a calibration cannot be used; see `parchd.physics.calibration.fit`.

    >>> from parchd.testing.site import tensiometer
    >>> round(budget_at(tensiometer("north-30", "a", height_m=0.6), 30.0, 0).budget.expanded_kpa, 2)
    2.89
    """
    holds = in_force_at(setup, time_us)
    curve = holds.sources.curve
    gauge_kpa = 0.0 - tension_kpa - head_kpa(setup.height_m, setup.water_c)
    pressure_kpa = from_gauge_kpa(gauge_kpa, setup.transducer.reference, setup.air_kpa, setup.sealed_at_kpa)
    beyond = curve is not None and not curve.span[0] <= pressure_kpa <= curve.span[1]
    made = budget(holds.sources, _indicated_kpa(curve, pressure_kpa), holds.age_years)
    return TensionBudget(holds, made, beyond)


def in_force_at(setup: TensiometerSetup, time_us: int) -> InForce:
    """Find what holds at a time of measurement.

    Raises:
        ValueError: see `budget_at`.
    """
    dated = epochs(setup.calibrations)
    position = bisect_right(dated, time_us, key=lambda epoch: epoch.calibration.valid_from_us) - 1
    if position < 0:
        return InForce(setup.errors)
    epoch = dated[position]
    begin_us = epoch.calibration.valid_from_us
    curve: Fit | Blend = epoch.fit
    if epoch.calibration.drifts and position + 1 < len(dated):
        following = dated[position + 1]
        weight = drift_weight(float(time_us), begin_us, following.calibration.valid_from_us)
        curve = blend(epoch.fit, following.fit, weight)
    sources = replace(setup.errors, curve=curve, reference_u_kpa=epoch.reference_u_kpa)
    return InForce(sources, epoch.calibration.label, age_years(time_us, begin_us))


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
