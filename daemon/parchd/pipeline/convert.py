"""From one number to tension at the cup: the chain of one tensiometer, compiled once."""

from bisect import bisect_right
from collections.abc import Callable
from typing import NamedTuple

from parchd.contract import Cause, Flag, Unit
from parchd.physics.calibration import Line, fit, in_force
from parchd.physics.causes import flag_of
from parchd.physics.head import head_kpa, tension_under_head_kpa
from parchd.physics.transducers import Ratiometric
from parchd.pipeline.setup import TensiometerSetup
from parchd.pipeline.signal import compile_signals
from parchd.quality.gross import gross_range


class Converted(NamedTuple):
    """What the chain made of one number; no pressure where the cause leaves none."""

    gauge_kpa: float | None
    tension_kpa: float | None
    cause: Cause
    calibration: str


Convert = Callable[[float, Unit, int, float | None, float | None], Converted]
"""``(value, unit, time_us, supply_v, water_c) -> Converted``; ``None`` for a supply or temperature not known."""


def compile_conversion(setup: TensiometerSetup) -> Convert:
    """Compile the chain counts/volts/mA, transducer, calibration, head, gross range into one function.

    A rail code, an open or shorted line, a unit that does not fit and a measured supply that is missing give no
    pressure at all: a fault is never a value.
    """
    signals = compile_signals(setup)
    transducer, height_m = setup.transducer, setup.height_m
    usual_head_kpa = head_kpa(height_m, setup.water_c)
    nominal_v = transducer.supply_v if isinstance(transducer, Ratiometric) else 0.0
    supply_needed = transducer.needs_supply and setup.supply_channel is not None
    line_at = _compile_lines(setup)

    def convert(value: float, unit: Unit, time_us: int, supply_v: float | None, water_c: float | None) -> Converted:
        to_signal = signals.get(unit)
        if to_signal is None:
            return Converted(None, None, Cause.UNIT, "")
        if supply_v is None:
            if supply_needed:
                return Converted(None, None, Cause.NO_SUPPLY, "")
            supply_v = nominal_v
        signal, cause = to_signal(value)
        cause = cause or transducer.fault(signal, supply_v)
        if flag_of(cause) is Flag.FAIL:
            return Converted(None, None, cause, "")
        line, label = line_at(time_us)
        gauge = transducer.gauge_kpa(signal, supply_v)
        if line is not None:
            gauge = line.reference_kpa(gauge)
        tension = tension_under_head_kpa(gauge, usual_head_kpa if water_c is None else head_kpa(height_m, water_c))
        out_of_range = gross_range(tension, setup.lowest_kpa, setup.highest_kpa, setup.usable_limit_kpa)
        return Converted(gauge, tension, out_of_range or cause, label)

    return convert


def _compile_lines(setup: TensiometerSetup) -> Callable[[int], tuple[Line | None, str]]:
    """Make the look-up of the calibration in force at a time; none before the first."""
    begins_us = sorted({calibration.valid_from_us for calibration in setup.calibrations})
    lines: list[tuple[Line | None, str]] = [(None, "")]
    for begin_us in begins_us:
        calibration = in_force(setup.calibrations, begin_us)
        assert calibration is not None
        lines.append((fit(calibration.points), calibration.label))
    return lambda time_us: lines[bisect_right(begins_us, time_us)]
