"""Commands that count once, however often they arrive."""

import sqlite3
from dataclasses import dataclass

from parchd.app.requests import Answer, AnyRequest
from parchd.clock import US_PER_S
from parchd.contract import Verdict
from parchd.store.answered import Answered, answered, note_answer

KEPT_US = 7 * 86_400 * US_PER_S
"""So long an id is remembered: a broker or a program that repeats itself does so within hours."""


@dataclass(frozen=True, slots=True)
class Once:
    """A name under which something counts once.

    Args:
        name: e.g. ``mqtt/field/17``.
        waited: it may be old; what was not done before is not done now.
    """

    name: str
    waited: bool = False


def answer_before(connection: sqlite3.Connection, once: Once | None, request: AnyRequest) -> Answer | None:
    """The answer where nothing is to be done: it was given before, or comes too late; ``None``: do it."""
    if once is None:
        return None
    before = answered(connection, once.name)
    if before is not None and before.asked != request.model_dump_json():
        return Answer(state="failed", verdict=Verdict.CLASH, text="its id was used for another command before")
    if before is not None:
        return Answer.model_validate_json(before.answer)
    if once.waited:
        text = "it waited while the daemon was away, and may be meant for another day; send it again with a new id"
        return Answer(state="failed", verdict=Verdict.LATE, text=text)
    return None


def note(connection: sqlite3.Connection, once: Once | None, request: AnyRequest, answer: Answer, now_us: int) -> None:
    """Remember an answer, within the transaction of what was done."""
    if once is not None:
        first = Answered(now_us, request.model_dump_json(), answer.model_dump_json())
        note_answer(connection, once.name, first, now_us + KEPT_US)
