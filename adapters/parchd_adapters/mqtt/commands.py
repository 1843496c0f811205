"""Commands about alarms: from payloads to the daemon, and its replies back. No input and output here.

All of it belongs to the source's thread, but for the answers of the daemon.
"""

import json
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from parchd.contract import AskDaemon, Command, Do, Reply, Verdict
from parchd_adapters.mqtt.inbox import Receipt
from parchd_adapters.mqtt.reasons import NO_COMMAND, RETAINED_COMMAND

MOST_PENDING = 20
"""Commands that wait for the daemon at once; more are turned away."""
_LONGEST_BYTES = 4096


class CommandPayload(BaseModel):
    """What a payload must hold."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    id: Annotated[str, Field(min_length=1, max_length=100)]
    do: Annotated[Do, Field(strict=False)]
    alarm: Annotated[str, Field(min_length=1, max_length=200)]
    by: Annotated[str, Field(min_length=1, max_length=100)]
    why: Annotated[str, Field(max_length=1000)] = ""
    hours: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    episode: Annotated[str, Field(max_length=200)] = ""


def read_command(payload: bytes | bytearray) -> CommandPayload:
    """Read a payload.

    >>> read_command(b'{"id": "7", "do": "acknowledge", "alarm": "silent.tensiometer.n1", "by": "Ines"}').do.value
    'acknowledge'

    Raises:
        ValueError: what is wrong with it, in a sentence.
    """
    if len(payload) > _LONGEST_BYTES:
        raise ValueError(f"a command has at most {_LONGEST_BYTES} bytes")
    try:
        return CommandPayload.model_validate_json(bytes(payload))
    except ValidationError as error:
        (first, *_) = error.errors(include_url=False, include_input=False)
        where = ".".join(map(str, first["loc"]))
        raise ValueError(f"{where}: {first['msg']}" if where else str(first["msg"])) from error


class Commands:
    """Takes messages of the commands' topic, asks the daemon, and holds replies until they are published.

    Args:
        ask: the daemon.
        wake: called, from any thread, when there is something to publish.
    """

    def __init__(self, ask: AskDaemon, wake: Callable[[], None]) -> None:
        self._ask = ask
        self._wake = wake
        self._asked = 0
        self._answered = 0
        self._replies: deque[bytes] = deque()

    def take(self, payload: bytes | bytearray, receipt: Receipt, *, retained: bool, waited: bool) -> str | None:
        """Take a message; its receipt is committed with the reply. Returns why it is no command, if it is none.

        A retained message is not done: the broker would give it again at every connection, also when the alarm is
        one of another day. An empty one is how a retained message is deleted.
        """
        if retained or not payload:
            receipt.commit()
            return RETAINED_COMMAND if payload else None
        try:
            read = read_command(payload)
        except ValueError as error:
            self._say({"id": _id_of(payload), "outcome": "invalid", "text": str(error)})
            receipt.commit()
            return NO_COMMAND
        if self._asked - self._answered >= MOST_PENDING:
            self._reply(read, receipt, Reply(Verdict.BUSY, "too many commands at once; send it again"))
            return None
        self._asked += 1
        self._ask(Command(**{**read.model_dump(), "waited": waited}), partial(self._on_answer, read, receipt))
        return None

    def take_replies(self) -> list[bytes]:
        """Take the replies that are to be published."""
        return [self._replies.popleft() for _ in range(len(self._replies))]

    def _on_answer(self, read: CommandPayload, receipt: Receipt, reply: Reply) -> None:
        """Called by the daemon, in its engine's thread."""
        self._answered += 1
        self._reply(read, receipt, reply)

    def _reply(self, read: CommandPayload, receipt: Receipt, reply: Reply) -> None:
        told = {"outcome": reply.verdict.value, "text": reply.text, "state": reply.state}
        self._say({"id": read.id, "do": read.do.value, "alarm": read.alarm, **told})
        receipt.commit()

    def _say(self, said: dict[str, Any]) -> None:
        self._replies.append(json.dumps(said, ensure_ascii=False).encode())
        self._wake()


def _id_of(payload: bytes | bytearray) -> str | None:
    """The id of a command that cannot be read otherwise, so that its sender may find it again."""
    try:
        found = json.loads(bytes(payload[:_LONGEST_BYTES]))["id"]
    except (ValueError, TypeError, LookupError, RecursionError):
        return None
    return found[:100] if isinstance(found, str) else None
