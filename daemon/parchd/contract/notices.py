"""What is said to people and to other programs."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import IntEnum, StrEnum
from typing import Any

from parchd.contract.charts import Chart
from parchd.words import DateStyle, Voice

JsonValue = str | int | float | bool | None | list["JsonValue"] | dict[str, "JsonValue"]


class NoticeKind(StrEnum):
    """What a message is about. The words are stored and sent: never change one.

    ``repeated``: an alarm that is still on; ``escalated``: one that nobody answered, told to the next person;
    ``reminder``: one that still waits for an answer; ``group``: several alarms with one cause; ``flood``: more alarms
    at once than anybody can read; ``step``: something in the life of an alarm, for programs.
    """

    RAISED = "raised"
    CLEARED = "cleared"
    REPEATED = "repeated"
    ESCALATED = "escalated"
    REMINDER = "reminder"
    GROUP = "group"
    FLOOD = "flood"
    DIGEST = "digest"
    OVERFLOW = "overflow"
    STEP = "step"
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
class AnswerLink:
    """Something that the recipient may do by following a link.

    Args:
        label: what it does, on a button.
        url: ``http`` or ``https``; a notifier shows no other.
        act: the same for programs, e.g. ``acknowledge``.
    """

    label: str
    url: str
    act: str


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
        lines: pairs of label and text that say it all to a person: what, since when, how sure, what it means, what to
            do. A notifier that shows them needs no summary.
        facts: pairs of label and value, in reading order.
        advice: what to do in order, a sentence each.
        answers: what the recipient may do at once.
        charts: pictures to be drawn.
        tables: longer content (digest).
        priority: of the alarm; digests and tests are ``LOW``.
        thread: shared by all messages about one episode of one alarm (raised, cleared); ``None``: stands alone.
        data: the same content for programs, JSON types only; ``type`` names it.
        voice: how the recipient is spoken to: language of the texts, unit and time zone of the charts.
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
    lines: tuple[tuple[str, str], ...] = ()
    answers: tuple[AnswerLink, ...] = ()
    charts: tuple[Chart, ...] = ()
    voice: Voice = field(default_factory=Voice)

    def to_json(self) -> str:
        """Encode for the outbox; `from_json` gives an equal notice back."""
        return json.dumps(asdict(self), ensure_ascii=False, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str) -> "Notice":
        """Decode what `to_json` wrote, also before notices had lines, answers, charts and a voice.

        >>> notice = Notice("a1", NoticeKind.TEST, 0, "Site", "Subject", "Summary", tables=(Table("t", ("c",), ()),))
        >>> Notice.from_json(notice.to_json()) == notice
        True
        """
        raw: dict[str, Any] = json.loads(text)
        raw["kind"] = NoticeKind(raw["kind"])
        raw["priority"] = Priority(raw["priority"])
        for pairs in ("facts", "lines"):
            raw[pairs] = tuple((label, value) for label, value in raw.get(pairs, ()))
        raw["advice"] = tuple(raw["advice"])
        raw["tables"] = tuple(
            Table(t["title"], tuple(t["columns"]), tuple(tuple(row) for row in t["rows"])) for t in raw["tables"]
        )
        raw["answers"] = tuple(AnswerLink(**one) for one in raw.get("answers", ()))
        raw["charts"] = tuple(map(Chart.from_raw, raw.get("charts", ())))
        voice = raw.get("voice", {})
        raw["voice"] = Voice(**{**voice, "date_style": DateStyle(voice["date_style"])} if voice else {})
        return cls(**raw)
