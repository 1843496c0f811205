"""From a sample's number and unit to the transducer's signal."""

from collections.abc import Callable

from parchd.contract import Cause, Unit
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, shunt_ma
from parchd.pipeline.setup import TensiometerSetup

Signal = tuple[float, Cause]
ToSignal = Callable[[float], Signal]


def compile_signals(setup: TensiometerSetup) -> dict[Unit, ToSignal]:
    """Make one function per unit that this tensiometer's samples may have.

    Each turns a sample's value into the signal the transducer's line is written for (V, mA or kPa) with
    ``Cause.SATURATED`` where a converter stands at its end. A unit that is not in the result does not fit.
    """
    target = setup.transducer.unit
    if target is Unit.KPA:
        return {Unit.KPA: _as_is}
    from_volts = _from_volts(setup, target)
    signals: dict[Unit, ToSignal] = {Unit.MA: _as_is} if target is Unit.MA else {}
    if from_volts is not None:
        signals[Unit.V] = lambda value: (from_volts(value), Cause.NONE)
        signals[Unit.MV] = lambda value: (from_volts(value / 1000.0), Cause.NONE)
        if setup.adc is not None:
            signals[Unit.COUNTS] = _from_counts(setup.adc, from_volts)
    return signals


def _as_is(value: float) -> Signal:
    return value, Cause.NONE


def _from_volts(setup: TensiometerSetup, target: Unit) -> Callable[[float], float] | None:
    if target is Unit.V:
        return lambda volts: volts
    loop = setup.transducer
    if not isinstance(loop, CurrentLoop) or (ohm := loop.shunt_ohm) is None:
        return None
    return lambda volts: shunt_ma(volts, ohm)


def _from_counts(adc: Adc, from_volts: Callable[[float], float]) -> ToSignal:
    def convert(code: float) -> Signal:
        if adc.at_rail(code):
            return 0.0, Cause.SATURATED
        return from_volts(adc.volts(code)), Cause.NONE

    return convert
