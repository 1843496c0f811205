"""How long a condition must hold."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Delays:
    """How long a condition must hold, in time and in number of readings, before an alarm is raised or cleared."""

    on_s: float = 0.0
    off_s: float = 0.0
    on_count: int = 1
    off_count: int = 1


AT_ONCE = Delays()
