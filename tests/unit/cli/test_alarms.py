import csv
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from parchd.cli.alarms import HEADING
from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, from_datetime
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.commands import Farm, parchd

NOON_US = from_datetime(datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("Europe/Lisbon")))
HOUR_US = 3600 * US_PER_S
SINCE = ("--since", "2026-06-01")


@pytest.fixture
def dried(quillmere: Farm) -> Farm:
    """Dry at noon, watered at two, dry again at four."""
    with quillmere.engine(NOON_US - HOUR_US) as bench:
        for hours, kpa in ((-1, 20.0), (0, 45.0), (2, 20.0), (4, 50.0)):
            time_us = NOON_US + hours * HOUR_US
            bench.turn(time_us, SampleBatch("field", (Sample("c0", time_us, kpa, Unit.KPA),)))
    return quillmere


def test_active_alarms_and_the_history_are_told_in_words_and_local_time(dried: Farm) -> None:
    said = parchd("alarms", dried.config, *SINCE)
    assert said.code == Exit.OK
    assert said.out.splitlines() == [
        "Active now: 1",
        "  since Wed 01 Jul 2026, 16:00  irrigate-now         zone/north               unacknowledged",
        "",
        "History: 3",
        "  Wed 01 Jul 2026, 12:00  raised   north block: irrigate now (45 kPa)",
        "  Wed 01 Jul 2026, 14:00  cleared  north block: no more need to irrigate now (20 kPa)",
        "  Wed 01 Jul 2026, 16:00  raised   north block: irrigate now (50 kPa)",
    ]


def test_the_history_is_a_table_for_programs_too(dried: Farm) -> None:
    said = parchd("alarms", dried.config, *SINCE, "--csv")
    assert said.code == Exit.OK
    table = list(csv.DictReader(said.out.splitlines()))
    assert tuple(table[0]) == HEADING
    assert table[1] == {
        "time_utc": "2026-07-01T13:00:00Z", "alarm": "irrigate-now", "subject": "zone/north", "change": "cleared",
        "raised_utc": "2026-07-01T11:00:00Z", "tension_kpa": "20.0", "limit_kpa": "40.0",
    }  # fmt: skip
    assert [row["change"] for row in table] == ["raised", "cleared", "raised"]


def test_a_span_cuts_the_history_and_leaves_what_is_active(dried: Farm) -> None:
    said = parchd("alarms", dried.config, "--since", "2026-07-01T13:00", "--until", "2026-07-01T15:00")
    assert "Active now: 1" in said.out
    assert "History: 1\n" in said.out
    assert "cleared" in said.out


def test_nothing_is_said_in_words(quillmere: Farm) -> None:
    with quillmere.engine():
        pass
    said = parchd("alarms", quillmere.config)
    assert said.out == "Active now: none\n\nHistory: nothing in this span\n"
    assert parchd("alarms", quillmere.config, "--csv").out == ",".join(HEADING) + "\n"
