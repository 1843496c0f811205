"""What the user asked for."""

from dataclasses import dataclass
from pathlib import Path

from parchd.demo.errors import DemoError

FASTEST = 600.0


@dataclass(frozen=True, slots=True)
class Wishes:
    """The arguments of ``parchd demo``.

    Args:
        speed: times faster than life.
        seconds: real time after which it ends by itself; ``None``: it does not.
        keep: folder for everything; ``None``: a temporary one.

    Raises:
        DemoError: a number is out of range.
    """

    speed: float = 60.0
    seconds: float | None = None
    keep: Path | None = None

    def __post_init__(self) -> None:
        if not 1.0 <= self.speed <= FASTEST:
            raise DemoError(f"--speed is 1 to {FASTEST:g} times faster than life, not {self.speed:g}")
        if self.seconds is not None and not self.seconds > 0:
            raise DemoError(f"--seconds is more than 0, not {self.seconds:g}")

    @property
    def tick_s(self) -> float:
        """Real time between the daemon's ticks; a minute of the farm's time without one would pass for a sleep.

        >>> Wishes(speed=60.0).tick_s, Wishes(speed=600.0).tick_s
        (0.2, 0.02)
        """
        return min(0.25, 12.0 / self.speed)
