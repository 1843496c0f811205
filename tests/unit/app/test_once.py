"""Commands of programs: what they ask for, and that each counts once."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from parchd.alarms.events import AlarmKey
from parchd.alarms.lifecycle import State
from parchd.alarms.rules import AlarmKind
from parchd.app.commands import asking
from parchd.app.engine import Engine
from parchd.app.messages import Ask
from parchd.app.once import KEPT_US
from parchd.contract import Command, Do, Reply, Verdict
from parchd.store.database import open_writer
from parchd.store.standings import history, load_standings
from parchd.testing.site import HOUR_US, MINUTE_US, START_US, batch, engine_setup_of, sample

NORTH = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
GIVEN: dict[str, Any] = {"id": "7", "do": Do.ACKNOWLEDGE, "alarm": "irrigate-now.zone.north", "by": "panel"}


class Farm:
    """An engine with an alarm in the north block, and a program that asks it."""

    def __init__(self, folder: Path) -> None:
        self.connection = open_writer(folder / "parchd.db")
        self.engine = Engine(self.connection, engine_setup_of(), START_US)
        self.now_us = START_US + MINUTE_US
        samples = [sample(f"n{depth}", self.now_us, 70.0) for depth in (20, 40, 60)]
        self.engine.turn([batch(*samples)], self.now_us)

    def give(self, name: str = "field", **changed: Any) -> Reply:
        asked: list[Ask] = []
        replies: list[Reply] = []
        asking(asked.append, name, "mqtt")(Command(**{**GIVEN, **changed}), replies.append)
        self.engine.turn(asked, self.now_us)
        (reply,) = replies
        return reply

    @property
    def state(self) -> State:
        one = load_standings(self.connection).get(NORTH)
        return State.NORMAL if one is None else one.state

    @property
    def steps(self) -> int:
        return len(list(history(self.connection)))


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Farm]:
    found = Farm(tmp_path)
    yield found
    found.connection.close()


def test_a_command_is_done_and_written_down_with_who_gave_it_and_how_it_came(farm: Farm) -> None:
    reply = farm.give(why="seen on the panel")
    assert (reply.verdict, reply.state) == (Verdict.DONE, "acknowledged")
    *_, step = history(farm.connection)
    assert (step.by, step.why, step.via) == ("panel", "seen on the panel", "mqtt")


def test_a_command_that_comes_twice_is_done_once_and_answered_alike(farm: Farm) -> None:
    first = farm.give(do=Do.SHELVE, hours=4.0, why="harvest")
    steps, until_us = farm.steps, load_standings(farm.connection)[NORTH].until_us
    farm.now_us += HOUR_US
    assert farm.give(do=Do.SHELVE, hours=4.0, why="harvest") == first
    assert farm.steps == steps
    assert load_standings(farm.connection)[NORTH].until_us == until_us, "the shelf is no longer than it was"


def test_a_refusal_that_comes_twice_is_a_refusal_twice(farm: Farm) -> None:
    """Else a command that came too early would be done by its own repetition, at a time nobody chose."""
    assert farm.give(do=Do.UNSHELVE).verdict is Verdict.REFUSED
    farm.give(id="8", do=Do.SHELVE, hours=4.0, why="harvest")
    assert farm.give(do=Do.UNSHELVE).verdict is Verdict.REFUSED
    assert farm.state is State.SHELVED


def test_ids_of_two_programs_are_their_own(farm: Farm) -> None:
    assert farm.give("field", do=Do.SHELVE, hours=4.0, why="harvest").verdict is Verdict.DONE
    assert farm.give("gate", do=Do.UNSHELVE).verdict is Verdict.DONE


def test_an_id_that_was_used_for_another_command_is_not_used_again(farm: Farm) -> None:
    farm.give()
    assert farm.give(do=Do.SHELVE, hours=4.0, why="harvest").verdict is Verdict.CLASH
    assert farm.state is State.ACKNOWLEDGED


def test_without_an_id_each_command_counts(farm: Farm) -> None:
    for _ in range(2):
        assert farm.give(id="", do=Do.SHELVE, hours=4.0, why="harvest").verdict is Verdict.DONE
    assert farm.connection.execute("SELECT count(*) FROM answered").fetchone() == (0,)


def test_one_that_waited_while_the_daemon_was_away_is_not_done(farm: Farm) -> None:
    reply = farm.give(waited=True)
    assert reply.verdict is Verdict.LATE
    assert "send it again" in reply.text
    assert farm.state is State.UNACKNOWLEDGED


def test_one_that_was_done_and_comes_again_after_waiting_is_answered_as_before(farm: Farm) -> None:
    first = farm.give()
    assert farm.give(waited=True) == first


def test_ids_are_forgotten_after_a_week(farm: Farm) -> None:
    farm.give()
    (row,) = farm.connection.execute("SELECT name, expires_us FROM answered")
    assert row == ("mqtt/field/7", farm.now_us + KEPT_US)


@pytest.mark.parametrize(
    ("changed", "verdict", "said"),
    [
        ({"alarm": "irrigate-now.zone.south"}, Verdict.UNKNOWN, "nothing that has alarms is called zone/south"),
        ({"alarm": "irrigate-now.tensiometer.north-20"}, Verdict.UNKNOWN, "no alarm that is called irrigate-now"),
        ({"alarm": "north"}, Verdict.UNKNOWN, "no alarm is called north"),
        ({"alarm": "flood.zone.north"}, Verdict.UNKNOWN, "no alarm is called flood.zone.north"),
        ({"do": Do.SHELVE, "hours": 4.0}, Verdict.REFUSED, "why"),
        ({"do": Do.SHELVE, "why": "harvest"}, Verdict.REFUSED, "hours"),
        ({"do": Do.SHELVE, "hours": 1000.0, "why": "harvest"}, Verdict.REFUSED, "hours"),
        ({"do": Do.RESET}, Verdict.REFUSED, "its cause still holds"),
        ({"episode": "irrigate-now.zone.north.5"}, Verdict.REFUSED, "over"),
        ({"by": "x" * 101}, Verdict.REFUSED, "by"),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_reason(
    farm: Farm, changed: dict[str, Any], verdict: Verdict, said: str
) -> None:
    steps = farm.steps
    reply = farm.give(**changed)
    assert reply.verdict is verdict
    assert said in reply.text
    assert farm.steps == steps
