"""What is said of an uncertainty budget: where a number can be set, and what would make it smaller."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.config import Loaded
from parchd.physics.uncertainty import Sources

TRANSDUCER, SITE, TENSIOMETER = "transducers", "site", "tensiometers"

KEYS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "data sheet": (TRANSDUCER, "accuracy_kpa"),
        "zero drift": (TRANSDUCER, "drift_kpa_per_year"),
        "temperature of transducer": (TRANSDUCER, "temperature_effect_kpa"),
        "height of water": (TENSIOMETER, "height_half_cm"),
        "temperature of water": (TENSIOMETER, "water_half_c"),
        "pressure of the air": (SITE, "barometer_u_kpa"),
    }
)
"""Table and key of each contribution that the configuration states; the others come from calibration and converter."""

ADVICE: Mapping[str, str] = MappingProxyType(
    {
        "data sheet": (
            "A calibration takes its place: compare the transducer with a hanging column of water or with a reference "
            "gauge, five points up and five down. If its data sheet promises more than is assumed here, say so with "
            "accuracy_kpa."
        ),
        "calibration": (
            "It is the scatter of the calibration points and the noise of a reading: take more points, wait for a "
            "steady signal at each, and average more conversions into a sample (readings_averaged)."
        ),
        "reference": (
            "Calibrate against something better. A hanging column of water whose length is read to 2 mm is good to "
            "0.02 kPa, up to 20 or 30 kPa; beyond it takes a reference gauge with a certificate."
        ),
        "converter": "Put gain ahead of the converter, take one with more bits, or average more conversions.",
        "height of water": (
            "Measure the height of the water above the middle of the cup with a ruler, refill before it falls, and say "
            "with height_half_cm how well it is known."
        ),
        "temperature of water": "Measure the temperature of soil or tube, and name its channel: temperature_channel.",
        "pressure of the air": (
            "A transducer that measures against the air around it (a gauge) needs no barometer. This one does: a "
            "better one at the site, or one at all, named with barometer_channel."
        ),
        "temperature of transducer": (
            "Shade it, or read it in the early morning. Measured at two temperatures it can be corrected for. If its "
            "data sheet promises more than is assumed here, say so with temperature_effect_kpa."
        ),
        "zero drift": (
            "Check the zero again, with the transducer open to the air or its cup in water: what it has drifted since "
            "then starts anew."
        ),
    }
)
"""What would make each contribution smaller."""


def where(name: str, loaded: Loaded, tensiometer: str) -> str:
    """Say which key a contribution can be set with if nobody did; empty where one did, or none can.

    Args:
        name: of the contribution.
        loaded: the configuration.
        tensiometer: whose budget it is.
    """
    if name not in KEYS:
        return ""
    table, key = KEYS[name]
    if table == SITE and loaded.settings.site.barometer_channel is None:
        key = "barometer_channel"
    if key not in loaded.assumed[tensiometer]:
        return ""
    return f"assumed: set {key} in {_table(table, loaded, tensiometer)}"


def notes(sources: Sources, label: str, *, beyond_span: bool, at_kpa: float, usable_kpa: float) -> list[str]:
    """What a reader of the budget should know besides.

    Args:
        sources: of the errors.
        label: date of the calibration in force, may be empty.
        beyond_span: the calibration has no points there.
        at_kpa: the tension of the budget.
        usable_kpa: highest tension that can be believed.
    """
    found = []
    if label and sources.known_curve is None:
        found.append(
            f"The calibration of {label} has too few points to say how much they scatter, so the data sheet's error "
            "counts: three points for a line, more are better."
        )
    if label and sources.reference_u_kpa == 0.0:
        found.append(f"The calibration of {label} does not say how good its reference was: U leaves that out.")
    if beyond_span:
        found.append(f"The calibration of {label} has no points at this pressure: its line was drawn on.")
    if at_kpa > usable_kpa:
        found.append(f"{at_kpa:g} kPa is above the usable limit of {usable_kpa:.1f} kPa: no reading of it is believed.")
    return found


def _table(table: str, loaded: Loaded, tensiometer: str) -> str:
    if table == SITE:
        return "[site]"
    if table == TENSIOMETER:
        return f"[tensiometers.{tensiometer}]"
    name = loaded.transducers[tensiometer]
    if name in loaded.settings.transducers:
        return f"[transducers.{name}]"
    return f'a table [transducers.NAME] with like = "{name}"'
