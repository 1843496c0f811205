"""Commands that do something to alarms, asking an engine over the control socket."""

import json
from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from parchd.app.control import ControlServer
from parchd.app.messages import Ask
from parchd.cli.exits import Exit
from parchd.clock import US_PER_S, from_datetime
from parchd.contract import Sample, SampleBatch, Unit
from parchd.testing.bench import Bench
from parchd.testing.commands import Farm, parchd

NOON_US = from_datetime(datetime(2026, 7, 1, 12, tzinfo=ZoneInfo("Europe/Lisbon")))
HOUR_US = 3600 * US_PER_S
ZONE = "irrigate-now         zone/north               "
SINCE = ("--since", "2026-06-01")


@pytest.fixture
def dry(quillmere: Farm) -> Iterator[Bench]:
    """A farm that is dry since noon, and an engine that hears commands at one."""
    with quillmere.engine(NOON_US - HOUR_US) as bench, quillmere.held():
        bench.feed(SampleBatch("field", (Sample("c0", NOON_US, 45.0, Unit.KPA),)))

        def tell(ask: Ask) -> None:
            bench.turn(NOON_US + HOUR_US, ask)

        server = ControlServer(quillmere.journal, tell)
        server.start()
        yield bench
        server.stop()


def alarms(farm: Farm) -> list[str]:
    return parchd("alarms", farm.config, *SINCE).out.partition("\n\nHistory")[0].splitlines()


@pytest.mark.parametrize("words", [("north",), ("zone/north",), ("north", "-a", "irrigate-n"), ("all",)])
def test_an_alarm_is_acknowledged_by_the_name_of_its_zone(quillmere: Farm, dry: Bench, words: tuple[str, ...]) -> None:
    assert alarms(quillmere) == [
        "Active now: 1",
        f"  since Wed 01 Jul 2026, 12:00  {ZONE}unacknowledged",
    ]
    said = parchd("acknowledge", words[0], quillmere.config, *words[1:], "--by", "Ines", "--because", "tonight")
    assert (said.code, said.out) == (Exit.OK, "irrigate-now of zone/north: acknowledged\n")
    assert alarms(quillmere)[1].endswith("acknowledged by Ines: tonight")


def test_a_shelf_is_shown_with_its_end_and_its_reason_and_ends_early_on_command(quillmere: Farm, dry: Bench) -> None:
    said = parchd("shelve", "north", quillmere.config, "--hours", "48", "--because", "gone", "--by", "Ines")
    until = "Fri 03 Jul 2026, 13:00"
    assert said.out == f"irrigate-now of zone/north: shelved until {until}\n"
    assert alarms(quillmere) == [
        "Active now: none",
        "",
        "Kept quiet: 1",
        f"  since Wed 01 Jul 2026, 13:00  {ZONE}shelved until {until} by Ines: gone (its condition holds)",
    ]
    said = parchd("unshelve", "north", quillmere.config)
    assert said.out == "irrigate-now of zone/north: off the shelf, now unacknowledged\n"


def test_an_alarm_that_has_not_come_yet_is_taken_out_by_its_word_and_put_back(quillmere: Farm, dry: Bench) -> None:
    said = parchd("take-out", "t1", quillmere.config, "--because", "at the workshop")
    assert said.code == Exit.FAILED
    assert "t1 has no alarm now; it may have " in said.err
    assert "cracked-cup" in said.err
    said = parchd("take-out", "t1", quillmere.config, "-a", "silent", "--because", "at the workshop")
    assert said.out == "silent of tensiometer/t1: out of service until it is put back\n"
    assert parchd("put-back", "t1", quillmere.config).out == "silent of tensiometer/t1: back in service, now normal\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("acknowledge", "south"), "nothing that has alarms is called south"),
        (("acknowledge", "t0"), "t0 has no alarm now"),
        (("acknowledge", "north", "-a", "silent"), "north has no alarm that is called silent; it may have irrigate-"),
        (("acknowledge", "north", "-a", "irrigate"), "may be irrigate-now, irrigate-plan"),
        (("acknowledge", "north", "-a", "thirst"), "thirst is no alarm"),
        (("reset", "north"), "its cause still holds"),
        (("reset", "all"), "say whose alarm"),
        (("unshelve", "north"), "it is on no shelf"),
        (("put-back", "north"), "it is not out of service"),
        (("shelve", "north", "--hours", "169", "--because", "x"), "seven days"),
        (("shelve", "north", "--hours", "1", "--because", " "), "a reason in words"),
    ],
)
def test_what_cannot_be_done_is_said_in_words(quillmere: Farm, dry: Bench, words: tuple[str, ...], says: str) -> None:
    before = dry.dump()
    said = parchd(*words[:2], quillmere.config, *words[2:])
    assert said.code != Exit.OK
    assert says in said.err
    assert dry.dump() == before


def test_who_comes_second_is_told_who_was_first(quillmere: Farm, dry: Bench) -> None:
    parchd("acknowledge", "north", quillmere.config, "--by", "Ines")
    assert "acknowledged already by Ines" in parchd("acknowledge", "north", quillmere.config).err
    assert "no alarm waits" in parchd("acknowledge", "all", quillmere.config).err


def test_every_step_is_listed_with_who_and_why(quillmere: Farm, dry: Bench) -> None:
    parchd("shelve", "north", quillmere.config, "-H", "4", "--because", "rain is coming", "--by", "Ines")
    assert parchd("alarms", quillmere.config, *SINCE, "--history").out.partition("Every step: ")[2].splitlines() == [
        "2",
        f"  Wed 01 Jul 2026, 12:00  {ZONE}raised, now unacknowledged",
        f"  Wed 01 Jul 2026, 13:00  {ZONE}shelved until Wed 01 Jul 2026, 17:00 by Ines: rain is coming",
    ]


def test_standings_and_steps_are_written_for_programs(quillmere: Farm, dry: Bench) -> None:
    parchd("acknowledge", "north", quillmere.config, "--by", "Ines")
    (stands,) = map(json.loads, parchd("alarms", quillmere.config, "--json").out.splitlines())
    assert (stands["state"], stands["condition"], stands["by"]) == ("acknowledged", "on", "Ines")
    assert stands["acknowledged_at"] == "2026-07-01T12:00:00Z"
    first, second = map(json.loads, parchd("alarms", quillmere.config, *SINCE, "--history", "--json").out.splitlines())
    assert (first["at"], first["happening"], first["via"]) == ("2026-07-01T11:00:00Z", "raised", "judge")
    assert (first["judged"]["tension_kpa"], first["judged"]["limit_kpa"]) == (45.0, 40.0)
    assert (second["before"], second["after"], second["judged"]) == ("unacknowledged", "acknowledged", None)
    assert first["episode"] == second["episode"] == stands["episode"]


def test_without_a_daemon_it_is_said_that_one_is_needed(quillmere: Farm) -> None:
    with quillmere.engine():
        pass
    said = parchd("acknowledge", "north", quillmere.config)
    assert said.code == Exit.FAILED
    assert "no daemon runs" in said.err
