"""From a sample's number and unit to the transducer's signal."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from parchd.contract import Unit
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, shunt_ma
from parchd.pipeline.setup import TensiometerSetup
from parchd.units import Quantity

Scale = Callable[[Any], Any]
"""For a float or an array, and gives the like."""


@dataclass(frozen=True, slots=True)
class SignalPath:
    """How samples of one unit become the signal that the transducer's line is written for.

    Args:
        scale: from the sample's number to the signal; for floats and arrays.
        adc: the converter that the number comes from; at its ends there is no signal.
    """

    scale: Scale
    adc: Adc | None = None


def signal_paths(setup: TensiometerSetup) -> dict[Unit, SignalPath]:
    """Make the path of each unit that this tensiometer's samples may have; another unit does not fit.

    >>> from parchd.testing.site import tensiometer
    >>> [unit.value for unit in signal_paths(tensiometer("north-30", "bus1/a"))]
    ['kPa', 'hPa']
    """
    target = setup.transducer.unit
    if target is Unit.COUNTS:
        return {Unit.COUNTS: SignalPath(_as_is)}
    if target is Unit.KPA:
        return {Unit.KPA: SignalPath(_as_is), Unit.HPA: SignalPath(lambda value: value / 10.0)}
    paths = {Unit.MA: SignalPath(_as_is)} if target is Unit.MA else {}
    from_volts = _from_volts(setup, target)
    if from_volts is not None:
        paths[Unit.V] = SignalPath(from_volts)
        paths[Unit.MV] = SignalPath(lambda value: from_volts(value / 1000.0))
        if (adc := setup.adc) is not None:
            paths[Unit.COUNTS] = SignalPath(lambda code: from_volts(adc.volts(code)), adc)
    return paths


def _as_is(value: Quantity) -> Quantity:
    return value


def _from_volts(setup: TensiometerSetup, target: Unit) -> Scale | None:
    if target is Unit.V:
        return _as_is
    loop = setup.transducer
    if not isinstance(loop, CurrentLoop) or (ohm := loop.shunt_ohm) is None:
        return None
    return lambda volts: shunt_ma(volts, ohm)
