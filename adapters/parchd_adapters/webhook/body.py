"""The JSON that is posted: an envelope as in Standard Webhooks, below 20 kB."""

import json
import math
from collections.abc import Iterator
from dataclasses import dataclass

from parchd.clock import to_datetime
from parchd.contract import JsonValue, Notice, Table

LIMIT_BYTES = 20_000  # Standard Webhooks 1.0.0: payloads should be small


@dataclass(frozen=True, slots=True)
class _Cut:
    """What is left out of a body. ``rows`` and ``chars`` are the most that stay, ``None``: all."""

    rows: int | None = None
    fields: frozenset[str] = frozenset()
    chars: int | None = None


def encode(notice: Notice) -> bytes:
    """Write the body; the same bytes for the same notice.

    Too long a message first loses rows of its tables, the last first, then advice, facts, and what its type adds;
    ``shortened`` names what was cut.

    >>> from parchd.contract import NoticeKind
    >>> body = json.loads(encode(Notice("n1", NoticeKind.TEST, 0, "Quillmere Orchard", "Test", "It works.")))
    >>> body["type"], body["timestamp"], body["data"]["subject"]
    ('test', '1970-01-01T00:00:00Z', 'Test')
    """
    for cut in _cuts():
        body = json.dumps(_envelope(notice, cut), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
        encoded = body.encode("utf-8", "replace")
        if len(encoded) < LIMIT_BYTES:
            break
    return encoded


def _cuts() -> Iterator[_Cut]:
    for rows in (None, 100, 50, 20, 5, 0):
        yield _Cut(rows)
    fields: frozenset[str] = frozenset()
    for name in ("advice", "facts", "details"):
        fields |= {name}
        yield _Cut(0, fields)
    yield _Cut(0, fields | {"tables"}, 300)


def _envelope(notice: Notice, cut: _Cut) -> JsonValue:
    details = {key: _finite(value) for key, value in notice.data.items() if key != "type"}
    data: dict[str, JsonValue] = {
        "id": notice.id,
        "kind": notice.kind.value,
        "priority": notice.priority.word,
        "site": notice.site[: cut.chars],
        "thread": None if notice.thread is None else notice.thread[: cut.chars],
        "subject": notice.subject[: cut.chars],
        "summary": notice.summary[: cut.chars],
        "facts": [{"label": label, "value": value} for label, value in notice.facts],
        "advice": list(notice.advice),
        "tables": [_table(table, cut.rows) for table in notice.tables],
        "details": details,
        "shortened": _shortened(notice, cut),
    }
    data |= {name: {} if name == "details" else [] for name in cut.fields}
    kind = notice.data.get("type")
    return {
        "type": kind[: cut.chars] if isinstance(kind, str) else notice.kind.value,
        "timestamp": to_datetime(notice.time_us).isoformat().replace("+00:00", "Z"),
        "data": data,
    }


def _table(table: Table, rows: int | None) -> JsonValue:
    kept = table.rows if rows is None else table.rows[:rows]
    return {
        "title": table.title,
        "columns": list(table.columns),
        "rows": [list(row) for row in kept],
        "rows_left_out": len(table.rows) - len(kept),
    }


def _shortened(notice: Notice, cut: _Cut) -> list[JsonValue]:
    longest = max((len(table.rows) for table in notice.tables), default=0)
    cuts = {"tables"} if cut.rows is not None and longest > cut.rows else set()
    there = {"advice": notice.advice, "facts": notice.facts, "details": len(notice.data) > ("type" in notice.data)}
    cuts |= {name for name in cut.fields if there.get(name)}
    return [*sorted(cuts | ({"text"} if cut.chars is not None else set()))]


def _finite(value: JsonValue) -> JsonValue:
    """Replace numbers that JSON cannot write by null: unknown, never a made-up value."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    return [_finite(item) for item in value] if isinstance(value, list) else value
