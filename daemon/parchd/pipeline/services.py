"""What services do to readings: they mark those around them, and they tell how high the water stood."""

from bisect import bisect_right
from dataclasses import dataclass

from parchd.physics.levels import Level, height_at_m


@dataclass(frozen=True, slots=True)
class Services:
    """The services of one tensiometer.

    Args:
        spans_us: begin and end of each stretch of time whose readings are marked, in order of begin.
        levels: heights of the water that services found and left, in order of time; empty: nobody looked.
    """

    spans_us: tuple[tuple[int, int], ...] = ()
    levels: tuple[Level, ...] = ()

    def marks(self, time_us: int) -> bool:
        """Whether a reading of this time was taken while somebody worked on it, or before it had settled.

        >>> [Services(((10, 20), (30, 40))).marks(time_us) for time_us in (9, 10, 19, 20, 35)]
        [False, True, True, False, True]
        """
        after = bisect_right(self.spans_us, time_us, key=lambda span: span[0])
        return any(time_us < end_us for _, end_us in self.spans_us[:after])

    def height_m(self, time_us: int) -> float | None:
        """Height of the water column at a time; ``None``: nobody looked."""
        return height_at_m(self.levels, time_us) if self.levels else None
