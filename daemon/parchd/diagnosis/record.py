"""Twelve weeks of a tensiometer as medians of six hours: what lies before its hours is packed into a short text."""

from array import array
from base64 import b64decode, b64encode
from collections.abc import Sequence
from typing import TYPE_CHECKING

from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.open_findings import DOUBTS
from parchd.diagnosis.standing import Standing
from parchd.diagnosis.verdict import Look

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

    Floats = NDArray[float64]

BLOCK_H, KEPT_DAYS = 6, 84
DAY = 24 // BLOCK_H
KEPT_BLOCKS = KEPT_DAYS * DAY
NOTE, SPOILED = "apart.record", "apart.spoiled"
"""Notes: number of the block after the newest, and the blocks; since when one of `TUBES` has been open, hours."""
TUBES = FindingKind.AIR_LEAK, FindingKind.POOR_CONTACT, FindingKind.SLOW_RESPONSE
WEIGHED = (*TUBES, FindingKind.CRACKED_CUP)
"""What is weighed; what a cracked cup has spoiled is forgotten at once."""
UNITS_PER_KPA, UNKNOWN, MOST = 100.0, -32768, 32767


def remember(look: Look) -> int:
    """Add the newest blocks; return the number of the block after them.

    What a fault has spoiled is forgotten at once, but of a fault of the tube itself only when that is over: until then
    it is looked at again and again.
    """
    end = (look.hour + 1) // BLOCK_H
    values = record(look.standing, end)
    for begin in _spoiled(look):
        values[max(begin // BLOCK_H - end, -KEPT_BLOCKS) :] = float("nan")
    look.standing.notes[NOTE] = [end, packed(values.tolist())]
    return end


def record(standing: Standing, end: int) -> "Floats":
    """Give the last twelve weeks up to a block: what was remembered, and after it what the hours hold; NaN: unknown."""
    import numpy as np

    known_end, known = _kept(standing)
    values = np.full(KEPT_BLOCKS, np.nan)
    first = end - KEPT_BLOCKS
    count = known_end - first
    if 0 < count <= len(known):
        values[:count] = known[len(known) - count :]
    begin = max(known_end, first, -(-max(standing.hours.begin, standing.since) // BLOCK_H))
    if begin < end:
        hours = standing.hours.column("mean_kpa", begin * BLOCK_H, end * BLOCK_H)
        values[begin - first :] = blocks_of(hours)
    return values


def _kept(standing: Standing) -> "tuple[int, Floats]":
    import numpy as np

    kept = standing.notes.get(NOTE)
    if isinstance(kept, list) and len(kept) == 2 and isinstance(kept[0], int) and isinstance(kept[1], str):
        return kept[0], unpacked(kept[1])
    return 0, np.empty(0)


def _spoiled(look: Look) -> list[int]:
    """Hours from which on what was read up to now means nothing."""
    subject, notes = look.instrument.subject, look.standing.notes
    kinds = look.state.findings.of(subject)
    starts = {key.kind: hour_of(one.start_us) for key, one in look.state.findings.items() if key.subject == subject}
    found = [starts[kind] for kind in kinds & DOUBTS if kind not in TUBES]
    tubes = [starts[kind] for kind in TUBES if kind in kinds]
    since = notes.get(SPOILED)
    if tubes:
        notes[SPOILED] = min(tubes)
    elif isinstance(since, int):
        del notes[SPOILED]
        if all(one.subject != subject or at_us < since * HOUR_US for one, at_us in look.state.dismissed.items()):
            found.append(since)
    return found


def packed(values: Sequence[float]) -> str:
    """Write tensions as text, to hundredths of a kilopascal.

    >>> unpacked(packed([1.5, float("nan"), -0.25])).tolist()
    [1.5, nan, -0.25]
    """
    units = (UNKNOWN if one != one else max(-MOST, min(MOST, round(one * UNITS_PER_KPA))) for one in values)
    return b64encode(array("h", units).tobytes()).decode("ascii")


def unpacked(text: str) -> "Floats":
    """Undo `packed`."""
    import numpy as np

    units = np.frombuffer(b64decode(text), dtype=np.int16)
    found: Floats = np.where(units == UNKNOWN, np.nan, units / UNITS_PER_KPA)
    return found


def blocks_of(hours: Sequence[float]) -> "Floats":
    """Take the median of every six hours; NaN: none is known."""
    import numpy as np

    rows = np.sort(np.array(hours, dtype=float).reshape(-1, BLOCK_H), axis=1)
    count = np.isfinite(rows).sum(axis=1)
    low, high = np.maximum(count - 1, 0) // 2, np.maximum(count, 1) // 2
    every = np.arange(len(rows))
    found: Floats = np.where(count > 0, (rows[every, low] + rows[every, np.minimum(high, BLOCK_H - 1)]) / 2.0, np.nan)
    return found
