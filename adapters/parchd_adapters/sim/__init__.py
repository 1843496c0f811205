"""Source ``sim``: soil that dries and is irrigated, as the transducers of tensiometers would show it."""

from parchd.contract import AdapterKind
from parchd_adapters.sim.options import SimOptions
from parchd_adapters.sim.source import Sim

KIND = AdapterKind(options=SimOptions, build=Sim)

__all__ = ["KIND", "Sim", "SimOptions"]
