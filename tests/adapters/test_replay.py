import logging
import os
import threading
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, ClassVar

import pytest
from pydantic import ValidationError

from parchd.clock import US_PER_S, to_datetime
from parchd.contract import Sample, Services, Source, SourceLost, Unit
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.running import Running
from parchd.testing.source_suite import Sent, SourceSuite
from parchd_adapters.replay import KIND

NOW_US = 1_790_000_000 * US_PER_S
WIDE = {"layout": "wide", "fields": {"a0": "a0_mV", "supply": {"key": "vs", "unit": "V"}}, "unit": "mV"}


class Recorder:
    """A file of one row a minute, played by a clock that the test moves."""

    name = "history"

    def __init__(self, folder: Path) -> None:
        self._clock = FakeClock()
        self._rows = [(60 * row, 1000 / (row + 3), 5 - row / 700) for row in range(200)]
        self._at = 0
        path = folder / "wide.csv"
        path.write_text("time,a0_mV,vs\n" + "".join(f"{time},{a0!r},{vs!r}\n" for time, a0, vs in self._rows))
        options = KIND.options.model_validate({"path": str(path), **WIDE})
        self.source: Source = KIND.build(options, Services(self.name, "Quillmere Orchard", self._clock))

    def feed(self, groups: int) -> Sequence[Sequence[Sent]]:
        rows = self._rows[self._at : self._at + groups]
        self._clock.advance(60 * (groups if self._at else groups - 1))
        self._at += groups
        return [
            (Sent("a0", a0, Unit.MV, time * US_PER_S), Sent("supply", vs, Unit.V, time * US_PER_S))
            for time, a0, vs in rows
        ]


class TestReplay(SourceSuite):
    kind = KIND
    options: ClassVar = {"path": "/media/usb/not-there.csv", **WIDE}

    @pytest.fixture
    def rig(self, tmp_path: Path) -> Recorder:
        return Recorder(tmp_path)


def play(folder: Path, text: str, **given: Any) -> FakeIntake:
    """Play a file as fast as possible."""
    path = folder / "record.csv"
    path.write_text(text, encoding="utf-8")
    options = KIND.options.model_validate({"path": str(path), "speed": 0, **given})
    intake = FakeIntake()
    KIND.build(options, Services("history", "Quillmere Orchard", FakeClock(NOW_US))).run(intake, threading.Event())
    return intake


def values(intake: FakeIntake) -> list[tuple[str, float | None]]:
    return [(sample.channel, sample.value) for sample in intake.samples]


def test_a_long_file_carries_channel_and_unit_in_each_row(tmp_path: Path) -> None:
    intake = play(tmp_path, "time,channel,value,unit\n2026-05-01T06:00:00Z,n1.30,617.5,mV\n1777615200,supply,4.98,V\n")
    assert intake.samples == [
        Sample("n1.30", 1_777_615_200 * US_PER_S, 617.5, Unit.MV),  # date -u -d 2026-05-01T06:00:00 +%s
        Sample("supply", 1_777_615_200 * US_PER_S, 4.98, Unit.V),
    ]


def test_a_long_file_may_name_its_columns_otherwise_and_leave_out_the_unit(tmp_path: Path) -> None:
    names = {"time_column": "t", "channel_column": "sensor", "value_column": "raw", "unit": "counts"}
    assert play(tmp_path, "sensor,t,raw\na0,0,17\n", **names).samples == [Sample("a0", 0, 17.0, Unit.COUNTS)]


def test_the_export_of_the_daemon_can_be_replayed(tmp_path: Path) -> None:
    text = "time_utc,tensiometer,channel,value,unit\n2026-05-01T06:00:00.000Z,n1,bus1/a0,17,counts\n,,bus2/a0,1,V\n"
    intake = play(tmp_path, text, time_column="time_utc", fields={"a0": "bus1/a0"})
    assert values(intake) == [("a0", 17)]
    assert not intake.rejects


def test_a_wide_file_has_a_column_for_each_channel(tmp_path: Path) -> None:
    intake = play(tmp_path, "time,a0_mV,vs,other\n0,617.5,4.98,9\n60,620,4.97,9\n", **WIDE)
    assert values(intake) == [("a0", 617.5), ("supply", 4.98), ("a0", 620), ("supply", 4.97)]
    assert {sample.channel: sample.unit for sample in intake.samples} == {"a0": Unit.MV, "supply": Unit.V}


def test_an_empty_cell_of_a_wide_file_is_no_sample_and_nan_is_one_without_a_value(tmp_path: Path) -> None:
    intake = play(tmp_path, "time,a0_mV,vs\n0,,NaN\n60,NA, \n", **WIDE)
    assert values(intake) == [("supply", None), ("a0", None)]


def test_an_empty_value_of_a_long_file_is_a_sample_without_a_value(tmp_path: Path) -> None:
    assert values(play(tmp_path, "time,channel,value\n0,a0,\n")) == [("a0", None)]


def test_a_file_with_semicolons_and_decimal_commas_is_read(tmp_path: Path) -> None:
    text = "\ufefftime;a0_mV;vs\r\n0;617,5;4,98\r\n"
    assert values(play(tmp_path, text, delimiter=";", decimal=",", **WIDE)) == [("a0", 617.5), ("supply", 4.98)]


TROUBLES = [
    ("0,abc,5\n", "row 2, column a0_mV: found 'abc', expected a number"),
    (
        "0,1,5\nnoon,1,5\n",
        "row 3, column time: found 'noon', expected a time as ISO 8601 or Unix seconds or milliseconds",
    ),
    ("\n0,1\n", "row 3, column vs: found 'nothing', expected 3 cells in the row, as in the heading"),
    ("2026-05-01 06:00,1,5\n", "expected a time with an offset from UTC, or the option time_zone"),
    ('0,"' + "x" * 200_000, "row 2, column time: found 'field larger than field limit (131072)'"),
]


@pytest.mark.parametrize(("rows", "told"), TROUBLES)
def test_a_bad_cell_is_told_by_row_column_found_and_expected(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, rows: str, told: str
) -> None:
    intake = play(tmp_path, "time,a0_mV,vs\n" + rows, **WIDE)
    assert intake.rejects == {"cell cannot be used": 1}
    (record,) = [record for record in caplog.records if getattr(record, "event", "") == "replay.bad-cell"]
    assert told in record.getMessage()


def test_a_unit_that_is_none_costs_its_row(tmp_path: Path) -> None:
    intake = play(tmp_path, "time,channel,value,unit\n0,a,1,bar\n60,a,2,kPa\n120,a,3,\n")
    assert [(sample.value, sample.unit) for sample in intake.samples] == [(2, Unit.KPA), (3, Unit.V)]
    assert intake.rejects == {"cell cannot be used": 1}


def test_a_bad_cell_costs_only_itself(tmp_path: Path) -> None:
    intake = play(tmp_path, "time,a0_mV,vs\n0,abc,5\n60,1,4\n", **WIDE)
    assert values(intake) == [("supply", 5), ("a0", 1), ("supply", 4)]


def test_a_thousand_bad_rows_make_ten_log_lines(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO)
    intake = play(tmp_path, "time,channel,value\n" + "0,a/b,1\n" * 1000)
    assert intake.rejects == {"cell cannot be used": 1000}
    events = [getattr(record, "event", "") for record in caplog.records]
    assert (events.count("replay.bad-cell"), events.count("replay.end")) == (10, 1)


@pytest.mark.parametrize(
    ("text", "given", "told"),
    [
        ("", {}, "found no heading; expected the column 'time' once"),
        ("time,value\n", {}, "found time, value; expected the column 'channel' once"),
        ("time,channel,value,value\n", {}, "expected the column 'value' once"),
        ("time,channel,value\n", {"unit_column": "units"}, "expected the column 'units' once"),
        ("time,vs\n", WIDE, "expected the column 'a0_mV' once"),
    ],
)
def test_a_heading_that_does_not_fit_says_what_was_found(
    tmp_path: Path, text: str, given: dict[str, Any], told: str
) -> None:
    with pytest.raises(SourceLost, match=told):
        play(tmp_path, text, **given)


def test_a_file_that_is_not_there_may_come_later(tmp_path: Path) -> None:
    options = KIND.options.model_validate({"path": str(tmp_path / "later.csv")})
    with pytest.raises(SourceLost, match=r"later\.csv"):
        KIND.build(options, Services("history", "", FakeClock())).run(FakeIntake(), threading.Event())


def hours(intake: FakeIntake) -> list[float]:
    return [sample.time_us / US_PER_S / 3600 for sample in intake.samples]


def test_the_hour_that_a_clock_shows_twice_is_played_twice(tmp_path: Path) -> None:
    local = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]  # 2026-11-01, Los Angeles
    text = "time,a0\n" + "".join(f"2026-11-01 {time},1\n" for time in local)
    intake = play(tmp_path, text, layout="wide", fields={"a0": "a0"}, time_zone="America/Los_Angeles")
    assert [hour - hours(intake)[0] for hour in hours(intake)] == [0, 0.5, 1, 1.5, 2, 2.5]


def test_two_channels_at_one_local_time_stay_at_one_time(tmp_path: Path) -> None:
    text = "time,channel,value\n" + "".join(f"2026-11-01 0{h}:00,{c},1\n" for h in (0, 1, 1, 2) for c in "ab")
    intake = play(tmp_path, text, time_zone="America/Los_Angeles")
    assert [hour - hours(intake)[0] for hour in hours(intake)] == [0, 0, 1, 1, 2, 2, 3, 3]


def test_an_hour_that_a_clock_skips_is_refused(tmp_path: Path) -> None:
    text = "time,channel,value\n2026-03-08 02:30,a0,1\n"
    intake = play(tmp_path, text, time_zone="America/Los_Angeles")
    assert intake.rejects == {"cell cannot be used": 1}
    kept = play(tmp_path, text, time_zone="America/Los_Angeles", daylight_saving=False)
    assert [to_datetime(sample.time_us).isoformat() for sample in kept.samples] == ["2026-03-08T10:30:00+00:00"]


def test_a_clock_without_daylight_saving_keeps_its_offset_in_summer(tmp_path: Path) -> None:
    text = "time,channel,value\n2026-07-01 12:00,a0,1\n"
    for zone in ({"time_zone": "America/Los_Angeles", "daylight_saving": False}, {"time_zone": "-08:00"}):
        assert to_datetime(play(tmp_path, text, **zone).samples[0].time_us).hour == 20
    assert to_datetime(play(tmp_path, text, time_zone="America/Los_Angeles").samples[0].time_us).hour == 19


def test_rows_come_when_they_are_due(tmp_path: Path) -> None:
    path = tmp_path / "record.csv"
    path.write_text("time,channel,value\n0,a,1\n60,a,2\n600,a,3\n")
    clock, intake = FakeClock(NOW_US), FakeIntake()
    options = KIND.options.model_validate({"path": str(path), "speed": 60})
    with Running(KIND.build(options, Services("history", "", clock)), intake) as running:
        assert intake.wait_for(lambda intake: len(intake.samples) == 1)
        clock.advance(0.99)
        assert not intake.wait_for(lambda intake: len(intake.samples) > 1, 0.2)
        clock.advance(0.02)
        assert intake.wait_for(lambda intake: len(intake.samples) == 2)
        clock.advance(9)
        assert running.ended(within_s=5)
    assert [sample.time_us for sample in intake.samples] == [0, 60 * US_PER_S, 600 * US_PER_S]


def test_a_record_can_be_moved_so_that_it_starts_now(tmp_path: Path) -> None:
    path = tmp_path / "record.csv"
    path.write_text("time,channel,value\n1000,a,1\n1060,a,2\n")
    clock, intake = FakeClock(NOW_US), FakeIntake()
    options = KIND.options.model_validate({"path": str(path), "shift_to_now": True})
    with Running(KIND.build(options, Services("history", "", clock)), intake) as running:
        assert intake.wait_for(lambda intake: len(intake.samples) == 1)
        clock.advance(60)
        assert running.ended(within_s=5)
    assert [sample.time_us for sample in intake.samples] == [NOW_US, NOW_US + 60 * US_PER_S]


def test_fast_rows_share_batches_that_keep_rows_whole(tmp_path: Path) -> None:
    fields = {f"c{number}": f"c{number}" for number in range(7)}
    text = ",".join(["time", *fields]) + "\n" + "".join(f"{row},0,1,2,3,4,5,6\n" for row in range(1000))
    intake = play(tmp_path, text, layout="wide", fields=fields)
    assert len(intake.samples) == 7000
    assert {len(batch.samples) for batch in intake.batches[:-1]} == {994}


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"layout": "wide"}, "a table from channel to column"),
        ({"fields": {"a": "x", "b": "x"}}, "'x' once only"),
        ({"fields": {"a/b": "x"}}, "1 to 64 characters"),
        ({"fields": {"a": {"key": "x", "units": "V"}}}, "units"),
        ({"decimal": ","}, "another sign than decimal"),
        ({"shift_to_now": True, "speed": 60}, "1 or slower with shift_to_now"),
        ({"speed": -1}, "speed"),
        ({"time_zone": "Quillmere"}, "a time zone such as"),
    ],
)
def test_options_that_do_not_fit_are_refused(given: dict[str, Any], told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        KIND.options.model_validate({"path": "x.csv", **given})


SHARED = Path(os.environ.get("PARCHD_SHARED", Path(__file__).resolve().parents[3] / "shared"))
FIELD_RECORD = SHARED / "field2015" / "tensiometer_mV.csv"


@pytest.mark.skipif(not FIELD_RECORD.exists(), reason="the open field record of 2015 is not beside the repository")
def test_a_real_field_record_of_ten_weeks_is_replayed_whole() -> None:
    fields = {f"ch{number:02}": f"ch{number:02}_mV" for number in range(1, 11)}
    options = KIND.options.model_validate(
        {
            "path": str(FIELD_RECORD),
            "layout": "wide",
            "time_column": "time_local",
            "time_zone": "America/Los_Angeles",
            "daylight_saving": False,  # "Local time without a daylight-saving step", says the record's README
            "fields": fields,
            "unit": "mV",
            "speed": 0,
        }
    )
    intake = FakeIntake()
    KIND.build(options, Services("history", "", FakeClock())).run(intake, threading.Event())
    assert not intake.rejects
    assert len(intake.samples) == 10 * 6700  # "15-minute means, 6 700 rows, no gaps"
    times = [sample.time_us for sample in intake.samples if sample.channel == "ch01"]
    assert {b - a for a, b in pairwise(times)} == {900 * US_PER_S}
    first, last = intake.samples[0], intake.samples[-10]
    assert (to_datetime(first.time_us).isoformat(), first.value) == ("2015-02-17T21:45:00+00:00", 615.6)
    assert (to_datetime(last.time_us).isoformat(), last.value) == ("2015-04-28T16:30:00+00:00", 1450.0)
