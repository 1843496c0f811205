"""The quality tests on a real field record: healthy tensiometers are left alone.

The record is that of test_field_record.py: 15-minute means of ten tensiometers in a flood-irrigated field, ten weeks of
spring 2015, from the public repository brown-ag/alfalfa_gb (commit 2d366f139ee5a188f8a53335dae81e1d399e21fe, GPL-2). It
is read where it lies and is no part of this project: set PARCHD_SHARED to the folder that holds field2015. The authors'
line is head in cm = (mV - 370) / 1.742; that the transducers stand as high above their cups as these are deep is an
assumption.
"""

import csv
import os
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest

from parchd.clock import from_datetime
from parchd.contract import Cause
from parchd.physics.head import tension_kpa
from parchd.quality.limits import limits_of
from parchd.quality.track import Track, step

HEIGHT_M = {1: 0.6, 2: 0.6, 3: 1.5, 4: 1.5, 5: 0.6, 6: 0.6, 7: 1.5, 8: 1.5, 9: 0.6, 10: 0.6}
KPA_PER_CM = 0.0980665
FINE_KPA, TEN_BITS_KPA = 0.0, 0.122

# Somebody worked in the field on 31 March from 8:30 to 9:15 and wrote it down nowhere: found by inspection.
SERVICE = {datetime(2015, 3, 31, 8, 45, tzinfo=UTC), datetime(2015, 3, 31, 9, 0, tzinfo=UTC)}

Found = list[tuple[datetime, Cause]]


def record(channel: int) -> list[tuple[datetime, float]]:
    """Local times, as if they were UTC, and tensions."""
    beside = Path(__file__).resolve().parents[2].parent / "shared"
    path = Path(os.environ.get("PARCHD_SHARED", beside)) / "field2015" / "tensiometer_mV.csv"
    if not path.is_file():
        # The record is under another licence and stays outside the repository.
        pytest.skip("the field record is not here: set PARCHD_SHARED to the folder with field2015/tensiometer_mV.csv")
    with path.open(newline="", encoding="utf-8") as lines:
        return [
            (
                datetime.fromisoformat(row["time_local"]).replace(tzinfo=UTC),
                tension_kpa(-(float(row[f"ch{channel:02d}_mV"]) - 370) / 1.742 * KPA_PER_CM, HEIGHT_M[channel], 20.0),
            )
            for row in csv.DictReader(lines)
        ]


def found_in(rows: list[tuple[datetime, float]], step_kpa: float = FINE_KPA) -> Found:
    """What the tests find in a record whose values move in steps."""
    limits, tracks, found = limits_of(900.0, step_kpa), dict[str, Track](), []
    for time, true_kpa in rows:
        kpa = round(true_kpa / step_kpa) * step_kpa if step_kpa else true_kpa
        verdict = step(limits, tracks, "one", from_datetime(time), kpa, Cause.NONE, "")
        if verdict.spike_us is not None:
            found.append((datetime.fromtimestamp(verdict.spike_us / 1e6, UTC), Cause.SPIKE))
        if verdict.cause:
            found.append((time, verdict.cause))
    return found


@pytest.mark.parametrize("step_kpa", [FINE_KPA, TEN_BITS_KPA])
@pytest.mark.parametrize("channel", [1, 2, 5, 9, 10])
def test_no_reading_of_a_healthy_tensiometer_is_suspect(channel: int, step_kpa: float) -> None:
    """Floods, the fast drying after them, and a ripple of 10 kPa a day late in April are all in the record."""
    assert found_in(record(channel), step_kpa) == []


@pytest.mark.parametrize("channel", [3, 4, 7, 8])
def test_deep_down_only_the_service_that_nobody_wrote_down_is_found(channel: int) -> None:
    assert {time for time, _ in found_in(record(channel))} <= SERVICE


def test_the_service_is_found_where_it_moved_the_value_most() -> None:
    assert Counter(cause for _, cause in found_in(record(8))) == {Cause.RISE_RATE: 2}


def test_the_ripple_of_the_day_hides_a_tensiometer_that_lost_its_water_from_these_tests() -> None:
    """Channel 6 is dead from 29 March on: no test of single samples finds that, the diagnosis has to."""
    assert found_in(record(6)) == []
