"""Kinds of transducers by one name each, for those who have no more to say than which kind theirs is."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.physics.reference import Reference
from parchd.physics.transducers.bridge import Bridge
from parchd.physics.transducers.current import CurrentLoop
from parchd.physics.transducers.digital import DigitalScale
from parchd.physics.transducers.direct import DirectPressure
from parchd.physics.transducers.kind import Transducer
from parchd.physics.transducers.voltage import LinearVoltage, Ratiometric

GENERIC: Mapping[str, Transducer] = MappingProxyType(
    {
        "ratiometric-5v-rising": Ratiometric(0.0, -100.0),
        "ratiometric-5v-falling": Ratiometric(-100.0, 0.0),
        "ratiometric-3v3-rising": Ratiometric(0.0, -100.0, supply_v=3.3),
        "ratiometric-3v3-falling": Ratiometric(-100.0, 0.0, supply_v=3.3),
        "onchip-differential-100kpa": Ratiometric(0.0, -100.0, 0.04, 0.94, open_below=0.01),
        "onchip-absolute-115kpa": Ratiometric(15.0, 115.0, 0.04, 0.94, open_below=0.01, reference=Reference.ABSOLUTE),
        "loop-4-20": CurrentLoop(0.0, -100.0),
        "loop-4-20-falling": CurrentLoop(-100.0, 0.0),
        "volts-0v5-4v5": LinearVoltage(0.5, 0.0, 4.5, -100.0, fault_below_v=0.25, fault_above_v=4.75),
        "volts-1-5": LinearVoltage(1.0, 0.0, 5.0, -100.0, fault_below_v=0.9, fault_above_v=5.25),
        "volts-0-10": LinearVoltage(0.0, 0.0, 10.0, -100.0, fault_above_v=10.5),
        "bridge-100kpa": Bridge(sensitivity_mv_per_v=3.33, full_scale_kpa=100.0),
        "digital-14bit-100kpa": DigitalScale(14, -100.0, 0.0, status_bits=2),
        "digital-24bit-100kpa": DigitalScale(24, -100.0, 0.0),
        "gauge-kpa": DirectPressure(),
        "vacuum-kpa": DirectPressure(vacuum_positive=True),
        "absolute-kpa": DirectPressure(reference=Reference.ABSOLUTE),
    }
)
"""Generic kinds: what the data sheets of many makers have in common, for tensiometers (vacuum up to 100 kPa).

"rising" means that the voltage rises with vacuum. The on-chip kinds are amplified silicon cells,
V = Vs (0.009 P + 0.04) with the low-pressure port on the tensiometer; the absolute one, V = Vs (0.009 P - 0.095), ends
at 15 kPa: some 86 kPa of vacuum at sea level, less higher up. A loop is read in mA, or over a shunt if its ohms are
given. The zero of "volts-0-10" is 0 V: a broken wire looks like no vacuum, choose another kind
if you can.
"""
