"""Every problem of a configuration is reported at once, in order, each with its line; and the text reads well."""

from pathlib import Path

import pytest

from parchd.config import load
from parchd.config.report import effective_text, errors_text
from parchd.testing.config_folder import ConfigFolder

GOLDEN = Path(__file__).parents[2] / "data" / "config"

FARM = """\
tensiometers_table = "tensiometers.csv"
include = "farm.d"

[site]
name = "Quillmere Orchard"
time_zone = "Europe/Lisboa"
altitude_m = 1500

[schedule]
digest_at = "02:30"

[transducers.orchard]
kind = "ratiometric"
low_kpa = 0
high_kpa = -100

[zones.north-block]
plan_kpa = 50
now_kpa = 45
on_delay_minutes = 20

[zones.creek-terrace]
plan_kpa = 30
now_kpa = 70

[sources.field]
kind = "mqqt"
host = "localhost"

[sinks.charts]
kind = "influxdb"
url = "http://localhost:8086"
org = "quillmere"
bucket = "soil"
token = "correct-horse-battery"

[tensiometers.north-1]
zone = "north-blok"
channel = "field/n1.shallow"
transducer = "orchard"
depth_cm = 30
zeroed_in_water = true
height_cm = 45

[[tensiometers.creek-1.calibration]]
valid_from = 2026-03-01
points = [[0.5, 80], [3.7, 0]]
"""
TABLE = """\
name,zone,depth_cm,height_cm,channel,transducer
creek-1,creek-terrace,20,45,field/c1.shallow,orchard
creek-2,creek-terrace,20,forty,field/c1.shallow,orchard
"""
INCLUDED = """\
[zones.creek-terrace]
now_kpa = 40
"""
WRONG = {
    ("farm.toml", 6, "site.time_zone"),
    ("farm.toml", 10, "schedule.digest_at"),
    ("farm.toml", 18, "zones.north-block.plan_kpa"),
    ("farm.toml", 20, "zones.north-block.on_delay_minutes"),
    ("farm.toml", 27, "sources.field.kind"),
    ("farm.toml", 35, "sinks.charts.token"),
    ("farm.toml", 38, "tensiometers.north-1.zone"),
    ("farm.toml", 43, "tensiometers.north-1.height_cm"),
    ("farm.toml", 47, "tensiometers.creek-1.calibration[1].points"),
    ("farm.d/zone.toml", 2, "zones.creek-terrace.now_kpa"),
    ("tensiometers.csv", 3, "tensiometers.creek-2.height_cm (column D)"),
    ("tensiometers.csv", 3, "tensiometers.creek-2.channel (column E)"),
    ("", None, "PARCHD_STORE__KEEP_DAYS"),
}


def wrong(config: ConfigFolder) -> list[tuple[str, int | None, str]]:
    config.write("tensiometers.csv", TABLE)
    config.write("farm.d/zone.toml", INCLUDED)
    config.environ["PARCHD_STORE__KEEP_DAYS"] = "ever"
    return [(problem.file, problem.line, problem.key) for problem in config.problems(FARM)]


def test_all_mistakes_are_reported_with_their_lines(config: ConfigFolder) -> None:
    found = wrong(config)
    assert set(found) == WRONG
    assert len(found) == len(WRONG)


def test_a_broken_site_hides_no_limit_that_can_be_checked_without_it(config: ConfigFolder) -> None:
    assert ("farm.toml", 18, "zones.north-block.plan_kpa") in wrong(config)


def test_the_text_of_all_mistakes_is_as_it_was_agreed(config: ConfigFolder) -> None:
    wrong(config)
    text = errors_text(config.problems(FARM))
    assert text.splitlines() == (GOLDEN / "errors.txt").read_text("utf-8").splitlines()
    assert all(len(line) <= 80 for line in text.splitlines())


def test_the_text_of_the_effective_values_is_as_it_was_agreed(examples: Path) -> None:
    text = effective_text(load(examples / "farm.toml", {"STATE_DIRECTORY": "/var/lib/parchd"}, None))
    assert text.splitlines() == (GOLDEN / "effective.txt").read_text("utf-8").splitlines()
    assert all(len(line) <= 80 for line in text.splitlines())


def test_a_file_that_stays_wrong_round_after_round_gives_its_problems(
    config: ConfigFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("parchd.config.salvage._ROUNDS", 0)
    assert [problem.key for problem in config.problems("[site]\nname = 3\n")] == [
        "site.altitude_m",
        "site.time_zone",
        "site.name",
    ]
