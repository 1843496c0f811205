"""What is known of a tensiometer's errors, and what is taken where nobody says anything."""

from dataclasses import dataclass

from parchd.config.ground import SiteTable
from parchd.config.transducer_table import TransducerTable
from parchd.physics.adc import Adc
from parchd.physics.transducers import Transducer
from parchd.physics.uncertainty import ASSUMED_ACCURACY_KPA, Sources, air_u_kpa, step_kpa

SPAN_KPA = 100.0
"""Of a device that works out the pressure by itself, and does not say its range."""

SHARES = {
    "accuracy_kpa": ASSUMED_ACCURACY_KPA / SPAN_KPA,
    "drift_kpa_per_year": 0.005,
    "temperature_effect_kpa": 0.005,
}
"""Of the span, for each error that nobody states.

Assumptions, of the size that data sheets of compensated silicon transducers state: 2.5 % in total, 0.5 % a year, and
0.5 % for the way from the bench to the field (0.025 % a kelvin).
"""

CORRECTED = 0.2
"""What is left of the assumed effect of temperature where a calibration corrects for it; an assumption too."""

BAROMETER_U_KPA = 0.1
"""Standard uncertainty of a barometer of which nobody says more; its data sheet may say 1 to 2 hPa to either side."""

HEIGHT_HALF_M = 0.01
WATER_HALF_K = 10.0
MEASURED_WATER_HALF_K = 2.0
"""A thermometer in the soil or on the tube is not in the water."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Errors of one type of transducer.

    Args:
        accuracy_kpa, drift_kpa_per_year, transducer_half_kpa, readings: see `parchd.physics.uncertainty.Sources`.
        assumed: keys that nobody wrote.
    """

    accuracy_kpa: float
    drift_kpa_per_year: float
    transducer_half_kpa: float
    readings: int
    assumed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Placing:
    """What the errors of one tensiometer depend on besides its transducer.

    Args:
        height_m: of its water column.
        height_half_m, water_half_c: half-widths that were written; ``None``: nobody did.
        has_thermometer: whether a channel measures the temperature.
        is_corrected: whether a calibration corrects for what that says.
    """

    height_m: float
    height_half_m: float | None
    water_half_c: float | None
    has_thermometer: bool
    is_corrected: bool = False


def accuracy_of(table: TransducerTable) -> Accuracy:
    """Take the errors of a transducer from its table, and those that are not there as a share of its span."""
    ends = table.ends_kpa
    span_kpa = SPAN_KPA if ends is None else _vacuum_span_kpa(table, *ends)
    written = {key: getattr(table, key) for key in SHARES}
    accuracy, drift, temperature = (
        SHARES[key] * span_kpa if value is None else value for key, value in written.items()
    )
    assumed = frozenset(key for key, value in written.items() if value is None)
    return Accuracy(accuracy, drift, temperature, table.readings_averaged, assumed)


def sources_of(
    accuracy: Accuracy, transducer: Transducer, adc: Adc | None, placing: Placing, site: SiteTable
) -> Sources:
    """Put together what makes the tension of one tensiometer uncertain; its calibrations come later."""
    assumed_and_corrected = placing.is_corrected and "temperature_effect_kpa" in accuracy.assumed
    water_half_c = MEASURED_WATER_HALF_K if placing.has_thermometer else WATER_HALF_K
    return Sources(
        accuracy_kpa=accuracy.accuracy_kpa,
        step_kpa=step_kpa(transducer, adc),
        readings=accuracy.readings,
        height_m=placing.height_m,
        height_half_m=HEIGHT_HALF_M if placing.height_half_m is None else placing.height_half_m,
        water_c=site.water_c,
        water_half_c=water_half_c if placing.water_half_c is None else placing.water_half_c,
        air_u_kpa=air_u_kpa(transducer.reference, barometer_u_kpa(site)),
        transducer_half_kpa=accuracy.transducer_half_kpa * (CORRECTED if assumed_and_corrected else 1.0),
        drift_kpa_per_year=accuracy.drift_kpa_per_year,
    )


def barometer_u_kpa(site: SiteTable) -> float | None:
    """Standard uncertainty of the site's barometer; ``None``: there is none."""
    if site.barometer_channel is None:
        return None
    return BAROMETER_U_KPA if site.barometer_u_kpa is None else site.barometer_u_kpa


def _vacuum_span_kpa(table: TransducerTable, low_kpa: float, high_kpa: float) -> float:
    """Give the span that a data sheet's percentages refer to: of a bridge of a gauge, one side of it."""
    return high_kpa if table.last_key == "full_scale_kpa" else abs(high_kpa - low_kpa)
