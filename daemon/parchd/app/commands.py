"""Commands of programs about alarms: from the contract's words to the engine's, and back."""

from collections.abc import Callable
from typing import Any

from pydantic import ValidationError

from parchd.alarms.events import parse_key
from parchd.app.messages import Ask
from parchd.app.once import Once
from parchd.app.requests import (
    Acknowledge,
    AlarmRequest,
    Answer,
    AnyRequest,
    PutBack,
    Reset,
    Shelve,
    TakeOut,
    Unshelve,
    Via,
)
from parchd.contract import AskDaemon, Command, Do, Reply, Verdict

_REQUESTS: dict[Do, type[AlarmRequest]] = {
    Do.ACKNOWLEDGE: Acknowledge,
    Do.RESET: Reset,
    Do.SHELVE: Shelve,
    Do.UNSHELVE: Unshelve,
    Do.TAKE_OUT: TakeOut,
    Do.PUT_BACK: PutBack,
}


def request_for(command: Command, via: Via) -> Any:
    """What a command asks for.

    Raises:
        LookupError: no alarm is called so.
        ValueError: something is missing, or is more than it may be; the text is a sentence.
    """
    try:
        key = parse_key(command.alarm)
    except ValueError:
        raise LookupError(f"no alarm is called {command.alarm}") from None
    given: dict[str, Any] = {
        "subject": key.subject, "kind": key.kind, "episode": command.episode, "by": command.by, "why": command.why,
        "via": via,
    }  # fmt: skip
    if command.do is Do.SHELVE:
        given["hours"] = command.hours
    try:
        return _REQUESTS[command.do].model_validate(given)
    except ValidationError as error:
        (first, *_) = error.errors(include_url=False, include_input=False)
        raise ValueError(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from None


def asking(tell: Callable[[Ask], None], name: str, via: Via) -> AskDaemon:
    """Make the way of commands from one adapter, or one program, into the engine.

    Args:
        tell: puts a message into the engine's queue.
        name: of the adapter or program: ids of commands are its own.
    """

    def ask(command: Command, answer: Callable[[Reply], None], /) -> None:
        try:
            request: AnyRequest = request_for(command, via)
        except LookupError as error:
            answer(Reply(Verdict.UNKNOWN, str(error.args[0])))
        except ValueError as error:
            answer(Reply(Verdict.REFUSED, str(error)))
        else:
            once = Once(f"{via}/{name}/{command.id}", command.waited) if command.id else None
            tell(Ask(request, lambda one: _pass_on(one, answer), once))

    return ask


def _pass_on(answer: Answer, to: Callable[[Reply], None]) -> None:
    if answer.state != "working":
        verdict = answer.verdict if isinstance(answer.verdict, Verdict) else Verdict.REFUSED
        to(Reply(verdict, answer.text, answer.alarm_state))
