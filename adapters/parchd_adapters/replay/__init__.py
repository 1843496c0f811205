"""Source ``replay``: a CSV file of samples, played at any speed."""

from parchd.contract import AdapterKind
from parchd_adapters.replay.options import ReplayOptions
from parchd_adapters.replay.source import Replay

KIND = AdapterKind(options=ReplayOptions, build=Replay)

__all__ = ["KIND", "Replay", "ReplayOptions"]
