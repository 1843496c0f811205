"""What is said to people and to other programs."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import IntEnum, StrEnum
from typing import Any

JsonValue = str | int | float | bool | None | list["JsonValue"] | dict[str, "JsonValue"]


class NoticeKind(StrEnum):
    RAISED = "raised"
    CLEARED = "cleared"
    DIGEST = "digest"
    OVERFLOW = "overflow"
    TEST = "test"


class Priority(IntEnum):
    """Priority of an alarm, three steps as in IEC 62682."""

    LOW = 1
    MEDIUM = 2
    HIGH = 3

    @property
    def word(self) -> str:
        """
        >>> Priority.HIGH.word
        'high'
        """
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Table:
    """A small table of words; every row has as many cells as there are columns."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Notice:
    """One message to one recipient; the notifier decides how it looks.

    Args:
        id: idempotency key: the same at every attempt to deliver this message to this recipient, never used for
            another. Characters ``a-z A-Z 0-9 . _ -``.
        kind: what it is about.
        time_us: when what it tells happened, microseconds UTC.
        site: name of the site.
        subject: one line. The text comes from people's names for things: a notifier must not trust it to be free
            of control characters.
        summary: one or two sentences: what, and how urgent.
        facts: pairs of label and value, in reading order.
        advice: what to do, a sentence each.
        tables: longer content (digest).
        priority: of the alarm; digests and tests are ``LOW``.
        thread: shared by all messages about one episode of one alarm (raised, cleared); ``None``: stands alone.
        data: the same content for programs, JSON types only; ``type`` names it.
    """

    id: str
    kind: NoticeKind
    time_us: int
    site: str
    subject: str
    summary: str
    facts: tuple[tuple[str, str], ...] = ()
    advice: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    priority: Priority = Priority.LOW
    thread: str | None = None
    data: Mapping[str, JsonValue] = field(default_factory=dict)

    def to_json(self) -> str:
        """Encode for the outbox; `from_json` gives an equal notice back."""
        return json.dumps(asdict(self), ensure_ascii=False, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str) -> "Notice":
        """Decode what `to_json` wrote.

        >>> notice = Notice("a1", NoticeKind.TEST, 0, "Site", "Subject", "Summary", tables=(Table("t", ("c",), ()),))
        >>> Notice.from_json(notice.to_json()) == notice
        True
        """
        raw: dict[str, Any] = json.loads(text)
        raw["kind"] = NoticeKind(raw["kind"])
        raw["priority"] = Priority(raw["priority"])
        raw["facts"] = tuple((label, value) for label, value in raw["facts"])
        raw["advice"] = tuple(raw["advice"])
        raw["tables"] = tuple(
            Table(t["title"], tuple(t["columns"]), tuple(tuple(row) for row in t["rows"])) for t in raw["tables"]
        )
        return cls(**raw)
