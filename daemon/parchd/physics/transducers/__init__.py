"""Transducers: what their signal says of the pressure at them, and when it says that they are broken."""

from parchd.physics.transducers.bridge import Bridge
from parchd.physics.transducers.current import CurrentLoop, shunt_ma
from parchd.physics.transducers.digital import DigitalScale
from parchd.physics.transducers.direct import DirectPressure
from parchd.physics.transducers.generic import GENERIC
from parchd.physics.transducers.kind import Bands, Transducer
from parchd.physics.transducers.voltage import LinearVoltage, Ratiometric

__all__ = [
    "Transducer", "Bands", "GENERIC",
    "Ratiometric", "LinearVoltage", "Bridge", "CurrentLoop", "DigitalScale", "DirectPressure", "shunt_ma",
]  # fmt: skip
