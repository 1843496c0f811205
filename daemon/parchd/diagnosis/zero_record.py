"""A season of a tensiometer in a few numbers: the median of every two days, kept in its notes."""

from typing import TYPE_CHECKING, NamedTuple

from parchd.diagnosis.hours import KEPT_HOURS, NAN, known
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.record import packed, unpacked
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.trends import middle
from parchd.diagnosis.verdict import Look

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

NOTE = "zero.blocks"
"""Note: number of the first block, and all of them packed."""
BLOCK_H, KEPT = 48, 100
LEAST_H = 12
"""Hours of a block that must be known."""
FREE_KPA, KPA_PER_M, STANDS_KPA = 0.5, 9.8, 1.2
"""A median below the first is as good as free water; its weight; and how much drier another cup may be in the same."""

NO_SOIL = (
    FindingKind.LOST_WATER, FindingKind.AIR_ENTRY, FindingKind.CRACKED_CUP, FindingKind.STUCK_VALUE,
    FindingKind.FROZEN, FindingKind.SWAPPED, FindingKind.BYTE_ORDER, FindingKind.WRONG_UNIT, FindingKind.LEVEL_SHIFT,
)  # fmt: skip
"""While one of these holds the readings tell nothing of the zero."""


class Record(NamedTuple):
    """Blocks from the first one on, kPa; NaN: not known."""

    first: int
    kpa: list[float]


def remember(look: Look) -> None:
    """Add the blocks that are over since the last look."""
    standing, now = look.standing, (look.hour + 1) // BLOCK_H
    earliest = max(now - KEPT_HOURS // BLOCK_H, -(-max(standing.since, standing.hours.begin) // BLOCK_H))
    record = record_of(standing) or Record(earliest, [])
    blank = look.has(*NO_SOIL)
    new = range(record.first + len(record.kpa), now)
    kpa = record.kpa + [NAN if blank else _block(standing, block) for block in new]
    kept = kpa[-KEPT:]
    standing.notes[NOTE] = [record.first + len(kpa) - len(kept), packed(kept)]


def record_of(standing: Standing) -> Record | None:
    """Read what is kept; ``None``: nothing."""
    note = standing.notes.get(NOTE)
    if not (isinstance(note, list) and len(note) == 2 and isinstance(note[0], int) and isinstance(note[1], str)):
        return None
    return Record(note[0], unpacked(note[1]).tolist())


def recorded(standing: Standing, begin: int, end: int) -> "Floats":
    """Give the blocks ``begin <= block < end``, the newest ones from the hours; NaN: not known."""
    import numpy as np

    first, kpa = record_of(standing) or Record(end, [])
    kpa = kpa + [_block(standing, block) for block in range(first + len(kpa), end)]
    return np.array([kpa[block - first] if first <= block else NAN for block in range(begin, end)], dtype=float)


def without_water_table(look: Look, own: "Floats", begin: int) -> "Floats":
    """Leave out blocks in which water really stands: by its weight another cup of its station reads as it must then.

    Args:
        own: what it read from block ``begin`` on.
    """
    import numpy as np

    stands, end = np.zeros(len(own), dtype=np.bool_), begin + len(own)
    for near in look.neighbours.station:
        if look.trusts(near):
            deeper_m = near.instrument.place.depth_m - look.instrument.place.depth_m
            stands |= recorded(near, begin, end) <= own - KPA_PER_M * deeper_m + STANDS_KPA
    found: Floats = np.where(stands & (own < FREE_KPA), np.nan, own)
    return found


def _block(standing: Standing, block: int) -> float:
    values = known(standing.hours.column("mean_kpa", block * BLOCK_H, (block + 1) * BLOCK_H))
    return middle(values) if len(values) >= LEAST_H else NAN
