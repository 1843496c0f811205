"""Each contribution to the uncertainty of a tension, with its sensitivity coefficient."""

import math

from parchd.physics.calibration import Blend, Fit
from parchd.physics.head import head_kpa
from parchd.physics.uncertainty.contribution import Contribution, rectangular
from parchd.physics.uncertainty.sources import Sources


def calibration(sources: Sources, indicated_kpa: float) -> Contribution:
    """The curve and the noise of the reading; sensitivity -1 of the corrected pressure.

    Without a calibration that says how much it scatters, the data sheet's accuracy, rectangular.
    """
    curve = sources.known_curve
    if curve is None:
        u = rectangular(sources.accuracy_kpa)
        return Contribution("data sheet", u, "B", f"not calibrated: +/-{sources.accuracy_kpa:.3g} kPa, rectangular")
    u = curve.u_kpa(indicated_kpa, sources.readings)
    return Contribution("calibration", u, "A", _scatter_words(curve), curve.dof)


def reference(sources: Sources) -> Contribution:
    """The gauge or column of the calibration; its error is one for all points: sensitivity -1."""
    return Contribution("reference", sources.reference_u_kpa, "B", "gauge or column of the calibration")


def converter(sources: Sources) -> Contribution:
    """The converter's steps, one step wide, rectangular; sensitivity 1 over the slope of the calibration.

    The step is in kPa by the transducer's line already: volts for one code times kPa for one volt.
    """
    curve = sources.known_curve
    step_kpa = sources.step_kpa / (1.0 if curve is None else curve.slope)
    return Contribution("converter", rectangular(step_kpa / 2.0), "B", f"one step is {step_kpa:.2g} kPa")


def head(sources: Sources) -> Contribution:
    """The height of the water column; sensitivity -rho g, -9.79 kPa/m at 20 C."""
    u = rectangular(sources.height_half_m) * head_kpa(1.0, sources.water_c)
    return Contribution("height of water", u, "B", f"+/-{sources.height_half_m * 100:.3g} cm, rectangular")


def water_temperature(sources: Sources) -> Contribution:
    """The temperature of the water column; sensitivity -g h d(rho)/dT, 0.002 kPa/K at most for a metre.

    The greater change of the two sides counts: near 4 C the slope is nothing and the bend is all.
    """
    usual = head_kpa(sources.height_m, sources.water_c)
    sides = (head_kpa(sources.height_m, sources.water_c + side * sources.water_half_c) for side in (-1.0, 1.0))
    u = rectangular(max(abs(side - usual) for side in sides))
    return Contribution("temperature of water", u, "B", f"+/-{sources.water_half_c:.3g} K, rectangular")


def air(sources: Sources) -> Contribution:
    """The barometer, or the weather where only the altitude is known; sensitivity 1, absolute and sealed only."""
    return Contribution("pressure of the air", sources.air_u_kpa, "B", "barometer, or weather about its mean")


def transducer_temperature(sources: Sources) -> Contribution:
    """What temperature does to the transducer and nobody corrects; sensitivity -1, rectangular."""
    u = rectangular(sources.transducer_half_kpa)
    return Contribution("temperature of transducer", u, "B", f"+/-{sources.transducer_half_kpa:.3g} kPa, rectangular")


def zero_drift(sources: Sources, age_years: float) -> Contribution:
    """The zero since it was last checked, growing with time; sensitivity -1, rectangular."""
    half_kpa = sources.drift_kpa_per_year * age_years
    detail = f"+/-{sources.drift_kpa_per_year:.3g} kPa a year, checked {age_years * 12:.0f} months ago"
    return Contribution("zero drift", rectangular(half_kpa), "B", detail)


def _scatter_words(curve: Fit | Blend) -> str:
    if isinstance(curve, Blend):
        return f"two calibrations of {curve.before.n} and {curve.after.n} points, drift between"
    about = "known" if curve.dof == math.inf else f"{curve.dof:.0f} degrees of freedom"
    return f"{curve.n} points, scatter {curve.s_kpa or 0.0:.2g} kPa, {about}"
