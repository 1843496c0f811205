"""What a server's answer means for the lines that were sent. Pure."""

import json
import re
from dataclasses import dataclass
from enum import Enum, auto

_RETRY = frozenset({408, 425, 429})
_LINES = frozenset({400, 422})
_DROPPED = re.compile(r"partial write: .*\bdropped=(\d+)", re.DOTALL)
_REASON_CHARS = 300


class Verdict(Enum):
    LATER = auto()
    """The server cannot take anything now."""
    PERSON = auto()
    """Something must be changed by a person first."""
    LINES = auto()
    """Some of the lines are refused."""
    SIZE = auto()
    """The request is too large."""


@dataclass(frozen=True, slots=True)
class Reply:
    """A server's refusal.

    Args:
        status: HTTP status; 0 when the connection was refused before HTTP (certificate).
        reason: what the server said, as one line of text.
        structured: the reason came in the JSON form in which a time-series server speaks of lines.
        retry_after_s: pause the server asked for.
    """

    status: int
    reason: str
    structured: bool = False
    retry_after_s: float | None = None

    @property
    def verdict(self) -> Verdict:
        """Sort the answer.

        A 400 that is not JSON comes from a proxy, or from an https port that was addressed as http: no line is at
        fault. Some versions answer 500 for points older than the bucket keeps. A field that exists with another type
        hits every line: setting them all aside would help nobody. A hand-shake that breaks off (EOF) is no verdict.

        >>> Reply(503, "busy").verdict.name, Reply(400, "Bad Request").verdict.name, Reply(413, "").verdict.name
        ('LATER', 'PERSON', 'SIZE')
        >>> Reply(400, "unable to parse 'x': missing fields", structured=True).verdict.name
        'LINES'
        """
        if self.structured and "type conflict" in self.reason:
            return Verdict.PERSON
        if self.structured and (self.status in _LINES or _DROPPED.search(self.reason)):
            return Verdict.LINES
        if self.status == 413:
            return Verdict.SIZE
        if self.status in _RETRY or self.status >= 500 or (self.status == 0 and "EOF" in self.reason):
            return Verdict.LATER
        return Verdict.PERSON

    @property
    def dropped(self) -> int:
        """How many lines the server says it dropped, having stored the others; 0 when it does not say.

        >>> Reply(422, "partial write: points beyond retention policy dropped=40", structured=True).dropped
        40
        """
        found = _DROPPED.search(self.reason)
        return int(found[1]) if found else 0


def read_reason(body: str) -> tuple[str, bool]:
    """Find the server's sentence in its answer; true when the answer has the form of a time-series server.

    >>> read_reason('{"code": "invalid", "message": "missing fields"}')
    ('missing fields', True)
    >>> read_reason("<html>Bad Request</html>")
    ('<html>Bad Request</html>', False)
    """
    try:
        answer = json.loads(body)
    except ValueError:
        return one_line(body), False
    if not isinstance(answer, dict):
        return one_line(body), False
    said = answer.get("message") or answer.get("error")
    if not isinstance(said, str):
        return one_line(body), False
    return "; ".join([one_line(said, None), *_named_lines(answer.get("data"))]), True


def _named_lines(data: object) -> list[str]:
    """Read the list of refused lines that version 3 adds to its answer."""
    entries = data if isinstance(data, list) else [data]
    return [
        f"{entry.get('error_message', '')}: '{entry['original_line']}'"
        for entry in entries
        if isinstance(entry, dict) and isinstance(entry.get("original_line"), str)
    ]


def one_line(text: str, limit: int | None = _REASON_CHARS) -> str:
    r"""Put text from outside on one printable line, shortened to ``limit`` characters.

    >>> one_line("two\nlines ", 5)
    'two l...'
    """
    clean = "".join(char if char.isprintable() else " " for char in text).strip()
    return clean if limit is None or len(clean) <= limit else clean[:limit] + "..."


def line_reason(reason: str, line: str) -> str:
    """Shorten a reason for the record: the line itself is known there.

    >>> line_reason("unable to parse 't,a=b x= 1': missing field value", "t,a=b x= 1")
    "unable to parse '...': missing field value"
    """
    return one_line(reason.replace(line, "..."))
