import csv
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from parchd.cli.exits import Exit
from parchd.cli.readings import COLUMNS
from parchd.clock import US_PER_S, SystemClock, from_datetime
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.commands import Farm, Said, parchd

HOUR_US = 3600 * US_PER_S
LISBON = ZoneInfo("Europe/Lisbon")


def local_us(year: int, month: int, day: int, hour: int = 0) -> int:
    """Microseconds UTC of a local time at the farm."""
    return from_datetime(datetime(year, month, day, hour, tzinfo=LISBON))


def fill(farm: Farm, times_us: Iterable[int], channels: Iterable[str] = ("c0",)) -> None:
    """Store a sample of each channel at each time, with the number of the time as its value."""
    with farm.engine() as bench:
        for number, time_us in enumerate(times_us):
            samples = tuple(Sample(channel, time_us, float(number % 50), Unit.KPA) for channel in channels)
            bench.turn(time_us, SampleBatch("field", samples))


def rows(said: Said) -> list[dict[str, str]]:
    assert said.code == Exit.OK, said.err
    return list(csv.DictReader(said.out.splitlines()))


def test_every_row_has_all_columns_and_the_numbers_that_were_stored(quillmere: Farm) -> None:
    with quillmere.engine() as bench:
        time_us = local_us(2026, 7, 1, 6) + 250_000
        good = Sample("c0", time_us, 31.123456789, Unit.KPA)
        bench.turn(
            time_us,
            SampleBatch("field", (good, Sample("c1", time_us, None, Unit.KPA), Sample("other", time_us, 4.98, Unit.V))),
        )
    first, second, third = rows(parchd("readings", quillmere.config, "--since", "2026-07-01"))
    assert tuple(first) == COLUMNS
    assert first == {
        "time_utc": "2026-07-01T05:00:00.250Z", "tensiometer": "t0", "zone": "north", "station": "post-0",
        "depth_cm": "30", "channel": "field/c0", "value": "31.12345679", "unit": "kPa", "gauge_kpa": "-31.12345679",
        "tension_kpa": "31.12345679", "uncertainty_kpa": first["uncertainty_kpa"], "flag": "1", "cause": "",
        "late": "0", "calibration": "",
    }  # fmt: skip
    assert float(first["uncertainty_kpa"]) > 0.0
    assert (second["value"], second["tension_kpa"], second["flag"], second["cause"]) == ("", "", "9", "no value")
    assert (third["tensiometer"], third["channel"], third["value"], third["flag"]) == ("", "field/other", "4.98", "2")


@pytest.mark.parametrize(
    ("day", "next_day", "hours"),
    [("2026-03-29", "2026-03-30", 23), ("2026-10-25", "2026-10-26", 25), ("2026-07-01", "2026-07-02", 24)],
)
def test_a_local_day_has_the_hours_that_the_clock_gave_it(quillmere: Farm, day: str, next_day: str, hours: int) -> None:
    start_us = from_datetime(datetime.fromisoformat(day).replace(tzinfo=LISBON)) - 24 * HOUR_US
    fill(quillmere, (start_us + n * HOUR_US for n in range(72)))
    found = rows(parchd("readings", quillmere.config, "--since", day, "--until", next_day))
    assert len(found) == hours
    assert [row["value"] for row in found] == [str(24 + n) for n in range(hours)]


def test_a_span_may_be_told_to_the_minute_and_its_end_does_not_belong_to_it(quillmere: Farm) -> None:
    fill(quillmere, (local_us(2026, 7, 1) + n * 60 * US_PER_S for n in range(24 * 60)))
    said = parchd("readings", quillmere.config, "--since", "2026-07-01T06:00", "--until", "2026-07-01T06:10")
    assert [row["time_utc"][11:16] for row in rows(said)] == [f"05:{minute:02}" for minute in range(10)]


def test_a_time_may_carry_its_own_offset(quillmere: Farm) -> None:
    fill(quillmere, [local_us(2026, 7, 1, 6)])
    for since, found in (("2026-07-01T05:00+00:00", 1), ("2026-07-01T05:00:01Z", 0), ("2026-07-01T14:00+09:00", 1)):
        said = parchd("readings", quillmere.config, "--since", since, "--until", "2026-07-02")
        assert len(rows(said)) == found, since


def test_without_a_span_it_is_the_last_day_and_an_age_counts_back_from_now(quillmere: Farm) -> None:
    now_us = SystemClock().now_us()
    fill(quillmere, (now_us - n * HOUR_US - 60 * US_PER_S for n in reversed(range(60))))
    assert len(rows(parchd("readings", quillmere.config))) == 24
    assert len(rows(parchd("readings", quillmere.config, "--since", "36h"))) == 36
    assert len(rows(parchd("readings", quillmere.config, "--since", "2d", "--until", "1d"))) == 24
    assert len(rows(parchd("readings", quillmere.config, "--since", "90min"))) == 2


@pytest.mark.parametrize("time", ["yesterday", "2026-13-01", "24", "5 weeks", ""])
def test_a_time_that_is_none_is_refused_with_examples(quillmere: Farm, time: str) -> None:
    fill(quillmere, [local_us(2026, 7, 1)])
    said = parchd("readings", quillmere.config, f"--since={time}")
    assert said.code == Exit.FAILED
    assert "expected 2026-05-01, 2026-05-01T06:00 or an age such as 90min, 36h, 7d" in said.err
    assert not said.out


def test_only_some_tensiometers_may_be_asked_for(quillmere: Farm) -> None:
    fill(quillmere, [local_us(2026, 7, 1)], ("c0", "c1", "supply"))
    since = ("--since", "2026-07-01")
    assert [row["tensiometer"] for row in rows(parchd("readings", quillmere.config, *since))] == ["t0", "t1", ""]
    assert [row["tensiometer"] for row in rows(parchd("readings", quillmere.config, *since, "-t", "t1"))] == ["t1"]
    both = parchd("readings", quillmere.config, *since, "--tensiometer", "t1", "-t", "t0")
    assert [row["tensiometer"] for row in rows(both)] == ["t0", "t1"]


def test_a_tensiometer_that_is_not_there_is_named(quillmere: Farm) -> None:
    fill(quillmere, [local_us(2026, 7, 1)])
    said = parchd("readings", quillmere.config, "-t", "t0", "-t", "t9")
    assert said.code == Exit.FAILED
    assert "no tensiometer is called t9" in said.err


def test_a_file_gets_what_the_terminal_would(quillmere: Farm, tmp_path: Path) -> None:
    fill(quillmere, [local_us(2026, 7, 1)])
    shown = parchd("readings", quillmere.config, "--since", "2026-07-01")
    said = parchd("readings", quillmere.config, "--since", "2026-07-01", "-o", tmp_path / "july.csv")
    assert (said.code, said.out) == (Exit.OK, "")
    assert (tmp_path / "july.csv").read_text() == shown.out


def test_a_file_that_cannot_be_written_is_named(quillmere: Farm, tmp_path: Path) -> None:
    fill(quillmere, [local_us(2026, 7, 1)])
    said = parchd("readings", quillmere.config, "--output", tmp_path / "none" / "july.csv")
    assert said.code == Exit.FAILED
    assert "july.csv: cannot be written (No such file or directory)" in said.err


def test_a_journal_without_rows_gives_the_heading_alone(quillmere: Farm) -> None:
    with quillmere.engine():
        pass
    assert parchd("readings", quillmere.config).out == ",".join(COLUMNS) + "\n"
