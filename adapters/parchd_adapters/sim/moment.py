"""A moment of a simulation, and where the sun stands."""

import math
from dataclasses import dataclass

US_PER_S = 1_000_000
US_PER_H = 3600 * US_PER_S


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment.

    Args:
        time_us: microseconds since 1970 UTC.
        start_us: when the simulation began.
        utc_offset_h: what the farm's clock is ahead of UTC.
    """

    time_us: int
    start_us: int = 0
    utc_offset_h: float = 0.0

    @property
    def elapsed_s(self) -> float:
        return (self.time_us - self.start_us) / US_PER_S

    @property
    def hour(self) -> float:
        """Hour of the day, 0 to 24."""
        return (self.time_us / US_PER_H + self.utc_offset_h) % 24.0

    @property
    def sun(self) -> float:
        """The part of the day's demand for water that falls on this hour, with a mean of 1 over 24 h.

        >>> Moment(0).sun, round(Moment(13 * US_PER_H).sun, 3)
        (0.0, 3.142)
        """
        return math.pi * max(0.0, self.wave(peak_h=13.0))

    def wave(self, peak_h: float) -> float:
        """A daily cosine: 1 at ``peak_h``, -1 twelve hours later."""
        return math.cos(2 * math.pi * (self.hour - peak_h) / 24.0)
