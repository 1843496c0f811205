"""A tensiometer of which the diagnosis remembers as much as it ever does."""

from parchd.diagnosis import offset, record, trails, zero_check, zero_record
from parchd.diagnosis.dips import KEPT_DIPS, Dips
from parchd.diagnosis.hours import HOUR_US, KEPT_HOURS, SPARE_HOURS, Hour
from parchd.diagnosis.opening import Dip, OpenHour
from parchd.diagnosis.standing import KEPT_FALLS, Fall, Standing
from parchd.testing.diagnosing import instrument

FIRST_HOUR = 500_000
NOTES, LONG_NOTES, NOTE_NUMBERS = 24, 2, 64
"""With the notes below about as much as the longest that simulated seasons leave: ten kilobytes; seven are usual."""


def full_standing(number: int) -> Standing:
    """Fill everything that has a bound: hours, falls, dips, open hours, notes.

    Args:
        number: of the tensiometer; no two share a number in memory.
    """
    standing = Standing(instrument(f"north-{number}"))
    end = FIRST_HOUR + KEPT_HOURS + SPARE_HOURS
    for hour in range(FIRST_HOUR, end):
        tension_kpa = 20.0 + hour % 24 + number / 1000.0
        standing.hours.push(hour, Hour(*[tension_kpa + place for place in range(len(Hour._fields))]))
    standing.falls = [Fall(end - 40 * n, 30.5 + n, 10.5 + n, end - 40 * n + 5) for n in range(KEPT_FALLS)]
    standing.dips = Dips(Dip((end + n) * HOUR_US, 1.5 + n) for n in range(KEPT_DIPS))
    standing.open = {end + n: OpenHour(9e9) for n in range(2)}
    standing.notes = {f"detector.{word}": end + word for word in range(NOTES)}
    for word in range(LONG_NOTES):
        standing.notes[f"detector.{word}"] = [end + row + 0.5 for row in range(NOTE_NUMBERS)]
    standing.notes[offset.NOTE] = [one for row in range(offset.KEPT) for one in (end + row, row + 0.5)]
    standing.notes[zero_check.NOTE] = [one for row in range(zero_check.KEPT) for one in (end + row, row + 0.25)]
    standing.notes[trails.NOTE] = [end + number + part / 10.0 for number in range(trails.KEPT) for part in range(5)]
    standing.notes[record.NOTE] = [end, record.packed([number + block / 100.0 for block in range(record.KEPT_BLOCKS)])]
    season = [number + block / 100.0 for block in range(zero_record.KEPT)]
    standing.notes[zero_record.NOTE] = [end, record.packed(season)]
    return standing
