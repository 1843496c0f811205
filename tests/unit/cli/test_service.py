"""``parchd service``: work that is written down, marked, kept and listed."""

import tomllib
from pathlib import Path
from xml.etree import ElementTree

import pytest

from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, SystemClock
from parchd.contract import Cause, Sample, SampleBatch, Unit
from parchd.testing.commands import Farm, parchd

HOUR_US = 3600 * US_PER_S


def measured(farm: Farm, hours: int = 30) -> None:
    """Store a sample an hour of the last hours, dry towards the end."""
    now_us = SystemClock().now_us()
    with farm.engine() as bench:
        for hour in range(hours, 0, -1):
            time_us = now_us - hour * HOUR_US // 10
            bench.turn(now_us, SampleBatch("field", (Sample("c0", time_us, 60.0 - hour, Unit.KPA),)))


def test_a_refill_is_written_down_kept_with_a_picture_and_listed(quillmere: Farm, tmp_path: Path) -> None:
    measured(quillmere)
    words = (
        "--work",
        "refill",
        "--by",
        "Ines",
        "--note",
        "half empty",
        "--left-cm",
        "44",
        "--records",
        tmp_path / "kept",
    )
    said = parchd("service", quillmere.config, "-t", "t0", *words)
    assert said.code == Exit.OK, said.err
    record, picture = sorted((tmp_path / "kept").iterdir(), key=lambda path: path.suffix, reverse=True)
    content = tomllib.loads(record.read_text("utf-8"))
    assert (content["tensiometer"], content["depth_cm"], content["work"]) == ("t0", 30.0, "refill")
    assert (content["by"], content["note"], content["left_cm"], content["marked_until_h"]) == (
        "Ines",
        "half empty",
        44.0,
        12.0,
    )
    drawn = ElementTree.fromstring(picture.read_text("utf-8"))
    text = " ".join(drawn.itertext())
    assert "tension at the cup" in text
    assert "refill" in text
    listed = parchd("service", quillmere.config)
    assert "refill" in listed.out
    assert "by Ines half empty" in listed.out


def test_readings_around_the_work_are_marked(quillmere: Farm) -> None:
    measured(quillmere)
    assert parchd("service", quillmere.config, "-t", "t0", "--work", "other", "--took-min", "30").code == Exit.OK
    with quillmere.engine() as bench:
        marked = bench.rows("SELECT count(*) FROM journal WHERE cause = ?", int(Cause.SERVICE))
    assert marked == [(4,)]  # 6, 12, 18 and 24 minutes ago


def test_without_readings_the_picture_says_so(quillmere: Farm, tmp_path: Path) -> None:
    assert parchd("service", quillmere.config, "-t", "t1", "--work", "install").code == Exit.OK
    (picture,) = (tmp_path / "records").glob("*.svg")
    assert "no readings" in " ".join(ElementTree.fromstring(picture.read_text("utf-8")).itertext())


@pytest.mark.parametrize(
    ("words", "needed"), [(("--work", "refill"), "which tensiometer"), (("-t", "t7", "--work", "refill"), "t7")]
)
def test_what_cannot_be_written_down_is_said_and_nothing_is_kept(
    quillmere: Farm, tmp_path: Path, words: tuple[str, ...], needed: str
) -> None:
    said = parchd("service", quillmere.config, *words)
    assert said.code == Exit.FAILED
    assert needed in said.err
    assert not list(tmp_path.rglob("*.svg"))


def test_no_service_is_told_in_words(quillmere: Farm) -> None:
    measured(quillmere, 1)
    assert parchd("service", quillmere.config).out == "no service is written down\n"
