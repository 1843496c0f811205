"""What the diagnosis remembers of a tensiometer fits into little memory."""

import tracemalloc

from parchd.diagnosis.hours import KEPT_HOURS, SPARE_HOURS, Hour, Hours
from parchd.testing.full_memory import full_standing

MOST_BYTES, SENSORS = 64_000, 100


def test_a_tensiometer_with_a_full_memory_takes_less_than_64_kilobytes() -> None:
    full_standing(-1)
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        kept = [full_standing(number) for number in range(SENSORS)]
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(kept[0].hours) == KEPT_HOURS + SPARE_HOURS
    assert (after - before) / SENSORS < MOST_BYTES


def test_a_full_memory_grows_no_more() -> None:
    hours = Hours()
    for number in range(3 * KEPT_HOURS):
        hours.push(number, Hour(mean_kpa=float(number)))
        assert len(hours) <= KEPT_HOURS + SPARE_HOURS
    assert len(hours) >= KEPT_HOURS
    assert hours.column("mean_kpa", hours.end - KEPT_HOURS, hours.end)[0] == 2.0 * KEPT_HOURS
