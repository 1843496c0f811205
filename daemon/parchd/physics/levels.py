"""The height of the water in the tube: air pockets, and water lost between services."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, overload

from parchd.physics.elementwise import smaller
from parchd.units import Quantity

if TYPE_CHECKING:
    from numpy import float64, int64
    from numpy.typing import NDArray


def column_height_m(transducer_m: Quantity, water_m: Quantity | float) -> Quantity:
    """Give the height of the continuous water column that a reading must be corrected for.

    Gas has the same pressure everywhere in it, so that with air below the transducer the column ends at the water's
    surface. A transducer below the cup has water above it whatever the surface does.

    Args:
        transducer_m: height of the transducer above the cup's centre, negative below.
        water_m: height of the water's surface above the cup's centre; above the transducer if there is no air.

    >>> column_height_m(0.60, 0.48), column_height_m(0.60, 0.70), column_height_m(-0.20, 0.30)
    (0.48, 0.6, -0.2)
    """
    return smaller(transducer_m, water_m)


@dataclass(frozen=True, slots=True)
class Level:
    """What a service found and left.

    Args:
        time_us: of the service, microseconds UTC.
        left_m: height of the water above the cup's centre afterwards.
        found_m: the same before; ``None``: nobody looked, or it is the installation.
    """

    time_us: int
    left_m: float
    found_m: float | None = None


@overload
def height_at_m(levels: Sequence[Level], time_us: int) -> float: ...
@overload
def height_at_m(levels: Sequence[Level], time_us: NDArray[int64]) -> NDArray[float64]: ...
def height_at_m(levels: Sequence[Level], time_us: Any) -> Any:
    """Give the height of the water at a time.

    Between two services the water fell evenly from what the first left to what the next found. After the last service
    it is as that left it, and before the first as that found it: nothing more is known.

    Args:
        levels: in order of time, one at least.
        time_us: of one reading, or of a column of them.

    Raises:
        ValueError: no levels, or not in order of time.

    >>> spring = [Level(0, left_m=0.60), Level(1_000, left_m=0.60, found_m=0.50)]
    >>> [round(height_at_m(spring, time_us), 3) for time_us in (-5, 250, 999, 1_000, 9_000)]
    [0.6, 0.575, 0.5, 0.6, 0.6]
    """
    times = [level.time_us for level in levels]
    if not times:
        raise ValueError("the height of the water needs one service or the installation at least")
    if any(later <= earlier for earlier, later in pairwise(times)):
        raise ValueError("services must be in order of time, no two at the same moment")
    segments = _segments(levels)
    if isinstance(time_us, int):
        return float(_along(segments[bisect_right(times, time_us)], time_us))
    import numpy as np

    columns = np.array(segments).T[:, np.searchsorted(times, time_us, side="right")]
    return _along(columns, time_us)


def _segments(levels: Sequence[Level]) -> list[tuple[float, float, float, float]]:
    """Give begin, duration, height and loss of each stretch, from before the first service to after the last."""
    first, last = levels[0], levels[-1]
    before = first.left_m if first.found_m is None else first.found_m
    stretches = [(0.0, 1.0, before, 0.0)]
    for level, following in pairwise(levels):
        found_m = level.left_m if following.found_m is None else following.found_m
        duration = float(following.time_us - level.time_us)
        stretches.append((float(level.time_us), duration, level.left_m, level.left_m - found_m))
    return [*stretches, (0.0, 1.0, last.left_m, 0.0)]


def _along(stretch: Any, time_us: Any) -> Any:
    begin, duration, height, loss = stretch
    return height - loss * ((time_us - begin) / duration)
