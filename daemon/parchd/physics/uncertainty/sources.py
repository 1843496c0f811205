"""What is known of the errors of one tensiometer."""

import math
from dataclasses import dataclass

from parchd.physics.barometer import WEATHER_KPA
from parchd.physics.calibration import Blend, Fit
from parchd.physics.reference import Reference

ASSUMED_ACCURACY_KPA = 2.5
"""Of a transducer of 100 kPa whose data sheet nobody gave: 2.5 % of its span, a common figure; an assumption."""

US_PER_YEAR = 365.25 * 86_400e6


@dataclass(frozen=True, slots=True)
class Sources:
    """Everything that makes a tension uncertain.

    Args:
        curve: the calibration in force; ``None``, or one that says nothing about its scatter (``dof`` 0): the
            accuracy of the data sheet counts instead.
        accuracy_kpa: half-width of the total error that the data sheet allows.
        reference_u_kpa: standard uncertainty of the gauge or column it was calibrated against.
        step_kpa: one step of the converter, in kPa; see `step_kpa`.
        readings: number of conversions that are averaged into one sample.
        height_m: of the water column; 0 also where the gauge was zeroed in water.
        height_half_m: half-width of what the height may be off.
        water_c: temperature of the water column.
        water_half_c: half-width of what that temperature may be off.
        air_u_kpa: standard uncertainty of the pressure of the air; 0 of a gauge; see `air_u_kpa`.
        transducer_half_kpa: half-width of what temperature does to zero and span and is not corrected for.
        drift_kpa_per_year: half-width of what the zero may move in a year.

    Raises:
        ValueError: a number is negative or none, or there is not one reading at least.
    """

    curve: Fit | Blend | None = None
    accuracy_kpa: float = ASSUMED_ACCURACY_KPA
    reference_u_kpa: float = 0.0
    step_kpa: float = 0.0
    readings: int = 1
    height_m: float = 0.0
    height_half_m: float = 0.01
    water_c: float = 20.0
    water_half_c: float = 10.0
    air_u_kpa: float = 0.0
    transducer_half_kpa: float = 0.0
    drift_kpa_per_year: float = 0.0

    def __post_init__(self) -> None:
        for name in ("accuracy_kpa", "reference_u_kpa", "step_kpa", "height_half_m", "water_half_c", "air_u_kpa",
                     "transducer_half_kpa", "drift_kpa_per_year"):  # fmt: skip
            if not 0.0 <= getattr(self, name) < math.inf:
                raise ValueError(f"{name} is 0 or more, not {getattr(self, name):g}")
        if self.readings < 1:
            raise ValueError(f"a sample is made of one reading at least, not of {self.readings}")

    @property
    def known_curve(self) -> Fit | Blend | None:
        """The calibration, if it says how much it scatters."""
        return self.curve if self.curve is not None and self.curve.dof > 0.0 else None


def air_u_kpa(reference: Reference, barometer_u_kpa: float | None) -> float:
    """Give the standard uncertainty that the pressure of the air brings.

    Args:
        reference: a gauge needs no air.
        barometer_u_kpa: standard uncertainty of the barometer; ``None``: only the altitude is known, and weather moves
            the air by 3 kPa to either side, rectangular.

    >>> air_u_kpa(Reference.GAUGE, None), air_u_kpa(Reference.ABSOLUTE, 0.1)
    (0.0, 0.1)
    >>> round(air_u_kpa(Reference.SEALED, None), 2)
    1.73
    """
    if not reference.needs_air:
        return 0.0
    return WEATHER_KPA / math.sqrt(3.0) if barometer_u_kpa is None else barometer_u_kpa


def age_years(time_us: int, checked_us: int) -> float:
    """Give how long ago the zero was checked; a reading before the check is as far from it as one after.

    >>> age_years(31_557_600_000_000, 0)
    1.0
    """
    return abs(time_us - checked_us) / US_PER_YEAR
