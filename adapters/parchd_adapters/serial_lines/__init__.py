"""Source ``serial-lines``: text lines from a microcontroller or logger on a serial or network port."""

from parchd.contract import AdapterKind
from parchd_adapters.serial_lines.options import SerialLinesOptions
from parchd_adapters.serial_lines.source import SerialLines

KIND = AdapterKind(options=SerialLinesOptions, build=SerialLines)

__all__ = ["KIND", "SerialLines", "SerialLinesOptions"]
