"""Commands about alarms: what is one, who answers it, and when its message may be acknowledged."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Command, Do, Reply, Verdict
from parchd_adapters.mqtt.commands import MOST_PENDING, Commands, read_command
from parchd_adapters.mqtt.inbox import Receipt
from parchd_adapters.mqtt.reasons import NO_COMMAND, RETAINED_COMMAND

GIVEN: dict[str, Any] = {"id": "7", "do": "acknowledge", "alarm": "irrigate-now.zone.north", "by": "Ines"}


class Daemon:
    """Keeps what it is asked, and answers when told."""

    def __init__(self) -> None:
        self.asked: list[Command] = []
        self.answers: list[Callable[[Reply], None]] = []
        self.rung = 0

    def ask(self, command: Command, answer: Callable[[Reply], None]) -> None:
        self.asked.append(command)
        self.answers.append(answer)

    def ring(self) -> None:
        self.rung += 1


def take(commands: Commands, *, retained: bool = False, waited: bool = False, **changed: Any) -> tuple[Receipt, Any]:
    receipt = Receipt([1], 1, lambda: None)
    payload = json.dumps({**GIVEN, **changed}).encode()
    return receipt, commands.take(payload, receipt, retained=retained, waited=waited)


def replies(commands: Commands) -> list[dict[str, Any]]:
    return [json.loads(reply) for reply in commands.take_replies()]


def test_a_command_reaches_the_daemon_and_its_reply_comes_back() -> None:
    daemon = Daemon()
    commands = Commands(daemon.ask, daemon.ring)
    receipt, problem = take(commands, do="shelve", hours=12, why="harvest", episode="irrigate-now.zone.north.5")
    assert problem is None
    assert daemon.asked == [
        Command("7", Do.SHELVE, "irrigate-now.zone.north", "Ines", "harvest", 12.0, "irrigate-now.zone.north.5")
    ]
    assert not receipt.committed, "nothing is acknowledged before the daemon has answered"
    daemon.answers[0](Reply(Verdict.DONE, "it is quiet now", "shelved"))
    assert receipt.committed
    assert replies(commands) == [
        {
            "id": "7", "do": "shelve", "alarm": "irrigate-now.zone.north", "outcome": "done",
            "text": "it is quiet now", "state": "shelved",
        }
    ]  # fmt: skip
    assert daemon.rung == 1
    assert replies(commands) == []


def test_a_retained_command_is_not_done_and_gets_no_reply() -> None:
    """The broker would give it again at every connection, and every connection would reply."""
    daemon = Daemon()
    commands = Commands(daemon.ask, daemon.ring)
    receipt, problem = take(commands, retained=True)
    assert problem == RETAINED_COMMAND
    assert receipt.committed
    assert daemon.asked == []
    assert replies(commands) == []


def test_an_empty_message_that_deletes_a_retained_one_is_nothing() -> None:
    daemon, receipt = Daemon(), Receipt([1], 1, lambda: None)
    commands = Commands(daemon.ask, daemon.ring)
    assert commands.take(b"", receipt, retained=False, waited=False) is None
    assert receipt.committed
    assert replies(commands) == []


def test_one_that_waited_at_the_broker_says_so() -> None:
    daemon = Daemon()
    take(Commands(daemon.ask, daemon.ring), waited=True)
    assert daemon.asked[0].waited


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"do": "open"}, "do: "),
        ({"id": ""}, "id: "),
        ({"id": 7}, "id: "),
        ({"by": "x" * 101}, "by: "),
        ({"hours": 0}, "hours: "),
        ({"hours": "12"}, "hours: "),
        ({"valve": 3}, "valve: "),
        ({"why": "x" * 5000}, "4096 bytes"),
    ],
)
def test_what_is_no_command_is_told_what_is_wrong_with_it(changed: dict[str, Any], said: str) -> None:
    daemon = Daemon()
    commands = Commands(daemon.ask, daemon.ring)
    receipt, problem = take(commands, **changed)
    assert problem == NO_COMMAND
    assert receipt.committed, "it would be no better the next time"
    assert daemon.asked == []
    (reply,) = replies(commands)
    assert reply["outcome"] == "invalid"
    assert said in reply["text"]
    assert reply["id"] == (changed.get("id", "7") if "why" not in changed and changed.get("id") != 7 else None)


@pytest.mark.parametrize("missing", ["id", "do", "alarm", "by"])
def test_a_command_says_what_is_to_be_done_to_what_by_whom(missing: str) -> None:
    payload = json.dumps({key: value for key, value in GIVEN.items() if key != missing})
    with pytest.raises(ValueError, match=missing):
        read_command(payload.encode())


@given(st.binary(min_size=1, max_size=200) | st.recursive(st.none() | st.integers() | st.text(), st.lists).map(
    lambda value: json.dumps(value).encode()
))  # fmt: skip
def test_any_payload_is_a_command_or_is_counted(payload: bytes) -> None:
    daemon = Daemon()
    receipt = Receipt([1], 1, lambda: None)
    assert Commands(daemon.ask, daemon.ring).take(payload, receipt, retained=False, waited=False) == NO_COMMAND
    assert receipt.committed


def test_too_many_at_once_are_turned_away_until_some_are_answered() -> None:
    daemon = Daemon()
    commands = Commands(daemon.ask, daemon.ring)
    for number in range(MOST_PENDING + 1):
        receipt, _ = take(commands, id=str(number))
    assert len(daemon.asked) == MOST_PENDING
    assert [reply["outcome"] for reply in replies(commands)] == ["busy"]
    assert receipt.committed
    daemon.answers[0](Reply(Verdict.DONE, "", ""))
    take(commands, id="again")
    assert daemon.asked[-1].id == "again"
