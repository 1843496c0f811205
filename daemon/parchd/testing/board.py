"""A board with one transducer on a serial line, whose vacuum follows a curve that a test sets."""

import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from parchd.clock import SystemClock
from parchd.testing.line import PtyLine

SUPPLY_V = 5.0
_RIPPLE_KPA = (0.0, 0.02, -0.01, 0.01, -0.02)

Curve = Callable[[float], float]
"""Vacuum in kPa by the seconds since the curve was set."""


def volts_of(vacuum_kpa: float) -> float:
    """What a ratiometric transducer of 0 to 100 kPa of vacuum gives on 5 V.

    >>> volts_of(0.0), volts_of(50.0)
    (0.5, 2.5)
    """
    return SUPPLY_V * (0.1 + 0.8 * vacuum_kpa / 100.0)


class Board:
    """Prints the volts of a transducer, line by line, until the ``with`` block is left.

    Args:
        interval_s: between two lines.
        zero_kpa, slope: what the transducer shows at no vacuum, and for each kPa.
    """

    def __init__(
        self, interval_s: float = 0.02, zero_kpa: float = 0.0, slope: float = 1.0, link: Path | None = None
    ) -> None:
        self.line = PtyLine(link)
        self._interval_s = interval_s
        self._zero_kpa = zero_kpa
        self._slope = slope
        self._clock = SystemClock()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="board", daemon=True)
        self._curve: tuple[float, Curve] = (0.0, lambda _t_s: 0.0)
        self.silent = False

    @property
    def path(self) -> str:
        return self.line.path

    def hold(self, vacuum_kpa: float) -> None:
        """Stay at a vacuum from now on."""
        self.follow(lambda _t_s: vacuum_kpa)

    def follow(self, curve: Curve) -> None:
        """Follow a curve from now on."""
        self._curve = (self._clock.monotonic_s(), curve)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stop.set()
        self._thread.join(10.0)
        self.line.close()

    def _run(self) -> None:
        number = 0
        while not self._stop.wait(self._interval_s):
            began_s, curve = self._curve
            vacuum_kpa = curve(self._clock.monotonic_s() - began_s) + _RIPPLE_KPA[number % len(_RIPPLE_KPA)]
            number += 1
            if not self.silent:
                volts = volts_of(self._zero_kpa + self._slope * vacuum_kpa)
                self.line.write(f"{volts:.5f}\n".encode(), timeout_s=0.1)


def bench_config(port: str, *extra: str, altitude_m: float = 100.0, interval_s: float = 1.0) -> str:
    """A configuration with one tensiometer, ``n1``, whose transducer is 60 cm above its cup."""
    return "\n".join((*extra, f"""\
[site]
name = "Quillmere Orchard"
time_zone = "Europe/Lisbon"
altitude_m = {altitude_m}

[transducers.vac]
kind = "ratiometric"
low_kpa = 0
high_kpa = -100

[zones.north]
plan_kpa = 20

[sources.board]
kind = "serial-lines"
port = "{port}"
fields = ["a0:V"]

[tensiometers.n1]
zone = "north"
depth_cm = 30
height_cm = 60
channel = "board/a0"
transducer = "vac"
interval_s = {interval_s}
"""))  # fmt: skip
