"""From one number to tension at the cup: the chain of one tensiometer, compiled once."""

from collections.abc import Callable
from typing import NamedTuple

from parchd.contract import Cause, Flag, Unit
from parchd.physics.causes import flag_of
from parchd.physics.head import head_kpa, tension_under_head_kpa
from parchd.physics.reference import to_gauge_kpa
from parchd.pipeline.chain import stretch_at, stretches
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.signal import signal_paths
from parchd.quality.gross import gross_range


class Known(NamedTuple):
    """What is known beside the sample; ``None``: not measured, or too long ago.

    Args:
        supply_v: supply voltage.
        water_c: temperature of water and transducer.
        air_kpa: pressure of the air.
        height_m: height of the water column, where services tell that it changed.
    """

    supply_v: float | None = None
    water_c: float | None = None
    air_kpa: float | None = None
    height_m: float | None = None


class Converted(NamedTuple):
    """What the chain made of one number; no pressure where the cause leaves none."""

    gauge_kpa: float | None
    tension_kpa: float | None
    cause: Cause
    calibration: str
    uncertainty_kpa: float | None = None


Convert = Callable[[float, Unit, int, Known], Converted]
"""``(value, unit, time_us, known) -> Converted``"""

NOTHING_KNOWN = Known()


def compile_conversion(setup: TensiometerSetup) -> Convert:
    """Compile the chain counts/volts/mA, transducer, calibration, air, head, gross range into one function.

    A rail code, an open or shorted line, a unit that does not fit, and a supply or barometer that is to be measured and
    is missing give no pressure at all: a fault is never a value.
    """
    paths, found = signal_paths(setup), stretches(setup)
    transducer, reference = setup.transducer, setup.transducer.reference
    usual_head_kpa, nominal_v = head_kpa(setup.height_m, setup.water_c), transducer.nominal_supply_v
    supply_needed, air_needed = needs(setup)

    def convert(value: float, unit: Unit, time_us: int, known: Known) -> Converted:
        path = paths.get(unit)
        if path is None:
            return Converted(None, None, Cause.UNIT, "")
        supply_v, water_c, air_kpa, height_m = known
        if supply_needed and supply_v is None:
            return Converted(None, None, Cause.NO_SUPPLY, "")
        if air_needed and air_kpa is None:
            return Converted(None, None, Cause.NO_BAROMETER, "")
        if path.adc is not None and path.adc.at_rail(value):
            return Converted(None, None, Cause.SATURATED, "")
        signal = path.scale(value)
        volts = nominal_v if supply_v is None else supply_v
        cause = transducer.fault(signal, volts)
        if flag_of(cause) is Flag.FAIL:
            return Converted(None, None, cause, "")
        stretch = found[0] if len(found) == 1 else stretch_at(found, time_us)
        indicated = transducer.indicated_kpa(signal, volts)
        air = setup.air_kpa if air_kpa is None else air_kpa
        gauge = to_gauge_kpa(stretch.pressure_kpa(indicated, time_us, water_c), reference, air, setup.sealed_at_kpa)
        head = usual_head_kpa
        if water_c is not None or height_m is not None:
            head = head_kpa(_or(height_m, setup.height_m), _or(water_c, setup.water_c))
        tension = tension_under_head_kpa(gauge, head)
        weather = air - setup.air_kpa
        out_of_range = gross_range(
            tension, setup.lowest_kpa, setup.highest_kpa + weather, setup.usable_limit_kpa + weather
        )
        uncertainty = stretch.expanded_kpa(indicated, time_us, water_c)
        return Converted(gauge, tension, out_of_range or cause, stretch.label, uncertainty)

    return convert


def needs(setup: TensiometerSetup) -> tuple[bool, bool]:
    """Whether a reading means nothing without the measured supply, and without the barometer."""
    transducer = setup.transducer
    return (
        transducer.needs_supply and setup.supply_channel is not None,
        transducer.reference.needs_air and setup.barometer_channel is not None,
    )


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value
