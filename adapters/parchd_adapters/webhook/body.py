"""What a message tells programs: one JSON object, cut where it would be too long."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from parchd.contract import JsonValue, Notice, Table

LIMIT_BYTES = 20_000  # Standard Webhooks 1.0.0: payloads should be small
VERSION = 1
"""Of the object ``data``, and of the schema that describes it. Keys that are added do not change it."""


@dataclass(frozen=True, slots=True)
class Cut:
    """What is left out of a body. ``rows`` and ``chars`` are the most that stay, ``None``: all."""

    rows: int | None = None
    fields: frozenset[str] = frozenset()
    chars: int | None = None


def fitted(encode: Callable[[Cut], bytes]) -> bytes:
    """Encode a body that is short enough; the same bytes for the same notice.

    Too long a message first loses rows of its tables, the last first, then advice, lines, facts, and what its type
    adds; ``shortened`` names what was cut.
    """
    for cut in _cuts():
        encoded = encode(cut)
        if len(encoded) < LIMIT_BYTES:
            break
    return encoded


def _cuts() -> Iterator[Cut]:
    for rows in (None, 100, 50, 20, 5, 0):
        yield Cut(rows)
    fields: frozenset[str] = frozenset()
    for name in ("advice", "lines", "facts", "details"):
        fields |= {name}
        yield Cut(0, fields)
    yield Cut(0, fields | {"tables", "answers"}, 300)


def data_of(notice: Notice, cut: Cut) -> dict[str, JsonValue]:
    """What is told, without the envelope.

    >>> from parchd.contract import NoticeKind
    >>> data_of(Notice("n1", NoticeKind.TEST, 0, "Quillmere Orchard", "Test", "It works."), Cut())["subject"]
    'Test'
    """
    details = {key: _finite(value) for key, value in notice.data.items() if key != "type"}
    data: dict[str, JsonValue] = {
        "version": VERSION,
        "id": notice.id,
        "kind": notice.kind.value,
        "priority": notice.priority.word,
        "site": notice.site[: cut.chars],
        "thread": None if notice.thread is None else notice.thread[: cut.chars],
        "language": notice.voice.language,
        "subject": notice.subject[: cut.chars],
        "summary": notice.summary[: cut.chars],
        "lines": [{"label": label, "text": text} for label, text in notice.lines],
        "facts": [{"label": label, "value": value} for label, value in notice.facts],
        "advice": list(notice.advice),
        "answers": [{"label": one.label, "url": one.url, "act": one.act} for one in notice.answers],
        "tables": [_table(table, cut.rows) for table in notice.tables],
        "details": details,
        "shortened": _shortened(notice, cut),
    }
    return data | {name: {} if name == "details" else [] for name in cut.fields}


def _table(table: Table, rows: int | None) -> JsonValue:
    kept = table.rows if rows is None else table.rows[:rows]
    return {
        "title": table.title,
        "columns": list(table.columns),
        "rows": [list(row) for row in kept],
        "rows_left_out": len(table.rows) - len(kept),
    }


def _shortened(notice: Notice, cut: Cut) -> list[JsonValue]:
    longest = max((len(table.rows) for table in notice.tables), default=0)
    cuts = {"tables"} if cut.rows is not None and longest > cut.rows else set()
    there = {
        "advice": notice.advice,
        "lines": notice.lines,
        "facts": notice.facts,
        "answers": notice.answers,
        "details": len(notice.data) > ("type" in notice.data),
    }
    cuts |= {name for name in cut.fields if there.get(name)}
    return [*sorted(cuts | ({"text"} if cut.chars is not None else set()))]


def _finite(value: JsonValue) -> JsonValue:
    """Replace numbers that JSON cannot write by null: unknown, never a made-up value."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    return [_finite(item) for item in value] if isinstance(value, list) else value
