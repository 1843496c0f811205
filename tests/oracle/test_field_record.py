"""A real field record: tensiometers in flooded soil must read about zero tension once the head is taken off.

Flood irrigation of alfalfa, 15-minute means of spring 2015, from the public repository brown-ag/alfalfa_gb (commit
2d366f139ee5a188f8a53335dae81e1d399e21fe, GPL-2). It is read where it lies and is no part of this project: set
PARCHD_SHARED to the folder that holds field2015. The authors' line is head in cm = (mV - 370) / 1.742; that the
transducers stand 0.60 m above their cups is an assumption that these minima support.
"""

import csv
import os
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from parchd.contract import Cause
from parchd.physics.head import tension_kpa
from parchd.physics.transducers import LinearVoltage

LINE = LinearVoltage(v1=0.370, kpa1=0.0, v2=0.370 + 1.742, kpa2=-98.0665, fault_below_v=0.2)
PLOT_EVENTS = {1: range(12, 18), 2: range(5, 11), 3: range(12, 16)}

# Channel, its plot, the lowest corrected tension found by inspection of the record.
MINIMA = [(1, 1, -1.08), (5, 2, -0.93), (9, 3, -0.26), (10, 3, -0.14)]

Row = dict[str, str]


def folder() -> Path:
    beside = Path(__file__).resolve().parents[2].parent / "shared"
    return Path(os.environ.get("PARCHD_SHARED", beside)) / "field2015"


def rows_of(name: str) -> list[Row]:
    path = folder() / name
    if not path.is_file():
        # The record is under another licence and stays outside the repository.
        pytest.skip(f"the field record is not here: set PARCHD_SHARED to the folder with field2015/{name}")
    with path.open(newline="", encoding="utf-8") as lines:
        return list(csv.DictReader(lines))


@pytest.fixture(scope="module")
def record() -> list[Row]:
    return rows_of("tensiometer_mV.csv")


@pytest.fixture(scope="module")
def floods() -> dict[int, datetime]:
    return {int(row["event"]): datetime.fromisoformat(row["start_local"]) for row in rows_of("flood_events.csv")}


def volts_of(record: list[Row], channel: int) -> list[float]:
    return [float(row[f"ch{channel:02d}_mV"]) / 1000.0 for row in record]


@pytest.mark.parametrize(("channel", "plot", "expected_kpa"), MINIMA)
def test_flooded_soil_reads_about_zero_after_the_head_correction(
    record: list[Row], floods: dict[int, datetime], channel: int, plot: int, expected_kpa: float
) -> None:
    tensions = tension_kpa(LINE.gauge_kpa(np.array(volts_of(record, channel)), 0.0), 0.60, 20.0)
    lowest = int(tensions.argmin())
    assert tensions[lowest] == pytest.approx(expected_kpa, abs=0.02)
    since_floods = [datetime.fromisoformat(record[lowest]["time_local"]) - floods[n] for n in PLOT_EVENTS[plot]]
    assert any(timedelta(0) < since < timedelta(hours=3) for since in since_floods)


@pytest.mark.parametrize("channel", range(1, 11))
def test_no_value_of_the_record_looks_like_a_broken_wire(record: list[Row], channel: int) -> None:
    assert {LINE.fault(volts, 0.0) for volts in volts_of(record, channel)} == {Cause.NONE}
