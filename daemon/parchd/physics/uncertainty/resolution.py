"""What one step of the converter is worth."""

from parchd.contract import Unit
from parchd.physics.adc import Adc
from parchd.physics.transducers import CurrentLoop, Transducer, shunt_ma


def step_kpa(transducer: Transducer, adc: Adc | None, supply_v: float | None = None) -> float:
    """Give the pressure that one code stands for.

    Args:
        transducer: its line turns volts into pressure; a digital one needs no converter.
        adc: ``None``: samples are not counts, and their resolution is not known here: 0.
        supply_v: ``None``: the transducer's nominal one.

    >>> from parchd.physics.transducers import Ratiometric
    >>> round(step_kpa(Ratiometric(0.0, -100.0), Adc(bits=10, full_scale_v=5.0)), 3)
    0.122
    """
    if transducer.unit is Unit.COUNTS:
        step = 1.0
    elif adc is None or transducer.unit is Unit.KPA:
        return 0.0
    else:
        step = adc.volts(1.0) - adc.volts(0.0)
    if isinstance(transducer, CurrentLoop):
        if transducer.shunt_ohm is None:
            return 0.0
        step = shunt_ma(step, transducer.shunt_ohm)
    supply_v = transducer.nominal_supply_v if supply_v is None else supply_v
    return abs(transducer.indicated_kpa(step, supply_v) - transducer.indicated_kpa(0.0, supply_v))
