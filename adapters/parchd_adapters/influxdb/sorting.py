"""Finding the lines a server refuses, by sending ever smaller parts. Pure but for the ``send`` it is given."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from parchd_adapters.influxdb.replies import Reply, Verdict, line_reason

MAX_REFUSALS = 100
"""How many refused requests one call may cost before it pauses."""


@dataclass(frozen=True, slots=True)
class Line:
    seq: int
    text: str


@dataclass(slots=True)
class Outcome:
    """How far a sorting came.

    Args:
        refused: reason by ``seq``.
        stored: how many lines the server took.
        limit: largest number of lines that may be sent at once.
        blocked: an answer that is about the connection, not about lines; sorting stopped there.
        refusals: how many requests were refused.
        unfinished: the sorting stopped at `MAX_REFUSALS` with lines left.
    """

    refused: dict[int, str]
    stored: int = 0
    limit: int = 0
    blocked: Reply | None = None
    refusals: int = 0
    unfinished: bool = False


Send = Callable[[Sequence[Line]], Reply | None]


def sort_lines(lines: Sequence[Line], send: Send) -> Outcome:
    """Store all lines that the server takes and name the others.

    A part that is refused is split: into the lines that the server's answer quotes and the rest, else in halves. One
    bad line among n costs 3 requests when it is quoted and 2 log2(n) + 1 when it is not. Good lines may be sent
    several times, which changes nothing on the server.
    """
    outcome = Outcome({}, limit=len(lines))
    todo = [list(lines)]
    while todo and outcome.blocked is None and outcome.refusals < MAX_REFUSALS:
        part = todo.pop()
        if len(part) > outcome.limit:
            todo.extend(_halves(part))
        elif part:
            todo.extend(_try(part, send, outcome))
    outcome.unfinished = bool(todo) and outcome.blocked is None
    return outcome


def _try(part: list[Line], send: Send, outcome: Outcome) -> list[list[Line]]:
    reply = send(part)
    if reply is None:
        outcome.stored += len(part)
        return []
    if reply.verdict in (Verdict.LATER, Verdict.PERSON):
        outcome.blocked = reply
        return []
    outcome.refusals += 1
    if len(part) == 1 or reply.dropped == len(part):
        outcome.refused.update({line.seq: line_reason(reply.reason, line.text) for line in part})
        return []
    if reply.verdict is Verdict.SIZE:
        outcome.limit = len(part) // 2
        return _halves(part)
    return _quoted(part, reply.reason) or _halves(part)


def _halves(part: list[Line]) -> list[list[Line]]:
    """Split in the middle; the first half is on top of the stack."""
    middle = (len(part) + 1) // 2
    return [part[middle:], part[:middle]]


def _quoted(part: list[Line], reason: str) -> list[list[Line]]:
    """Split into the lines that ``reason`` quotes and the rest; nothing when it quotes none, or all."""
    named = [line for line in part if line.text in reason]
    if not named or len(named) == len(part):
        return []
    seqs = {line.seq for line in named}
    return [*([line] for line in named), [line for line in part if line.seq not in seqs]]
