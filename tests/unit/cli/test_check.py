import pytest

from parchd.cli.exits import Exit
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import webhook
from parchd.testing.http_receiver import HttpReceiver


@pytest.fixture
def good(quillmere: Farm) -> Farm:
    """A configuration in which nothing is even odd."""
    with HttpReceiver() as receiver:
        quillmere.write(webhook(receiver))
    quillmere.config.write_text(quillmere.config.read_text().replace("height_cm = 0", "height_cm = 45"))
    return quillmere


def test_a_good_configuration_shows_its_effective_values(good: Farm) -> None:
    said = parchd("check", good.config)
    assert said.code == Exit.OK
    for part in ("Quillmere Orchard", "Europe/Lisbon", "north block", "t0", "t1", "irrigate at 40 kPa"):
        assert part in said.out
    assert not said.err


def test_quiet_says_nothing_of_a_good_one(good: Farm) -> None:
    said = parchd("check", good.config, "--quiet")
    assert (said.code, said.out, said.err) == (Exit.OK, "", "")
    assert parchd("check", "-q", good.config) == said


def test_every_problem_of_a_broken_one_is_told_at_once(good: Farm) -> None:
    text = good.config.read_text()
    good.config.write_text(
        text.replace("altitude_m = 100", "altitude_m = 1e6")
        .replace('time_zone = "Europe/Lisbon"', 'time_zone = "Europe/Quillmere"')
        .replace('channel = "field/c1"', 'chanel = "field/c1"')
    )
    said = parchd("check", good.config)
    assert said.code == Exit.CONFIG
    assert not said.out
    for key in ("site.altitude_m", "site.time_zone", "tensiometers.t1.chanel"):
        assert key in said.err
    assert "did you mean channel?" in said.err
    assert f"{good.config}:3" in said.err, "file and line"
    assert "problems" in said.err.splitlines()[-1]


def test_what_is_odd_is_called_a_warning_and_is_no_error(good: Farm) -> None:
    good.config.write_text(good.config.read_text().replace("now_kpa = 40\n", ""))
    said = parchd("check", good.config, "-q")
    assert (said.code, said.out) == (Exit.OK, "")
    assert "expected  plan_kpa or now_kpa" in said.err
    assert said.err.splitlines()[-1] == "1 warning"


def test_it_needs_no_journal_and_makes_none(good: Farm) -> None:
    parchd("check", good.config)
    assert not good.journal.exists()
