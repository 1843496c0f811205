"""What stands around the data of a message: the envelope of Standard Webhooks, or CloudEvents in one of two modes."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from urllib.parse import quote

from parchd.clock import to_datetime
from parchd.contract import JsonValue, Notice
from parchd_adapters.webhook.body import VERSION, Cut, data_of, fitted

SCHEMA = f"urn:parchd:webhook:{VERSION}"
"""Name of the schema of all bodies; ``#/$defs/data`` is that of ``data``."""
LONGEST_ATTRIBUTE = 200

# CloudEvents 1.0.2, "Type System": no control characters, surrogates or what is no character.
_NO_CHARACTER = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]+")
# CloudEvents 1.0.2, HTTP binding, 3.1.3.2: printable ASCII but for space, double quote and percent.
_PLAIN_IN_HEADERS = "".join(chr(code) for code in range(0x21, 0x7F) if chr(code) not in '"%')


class Envelope(StrEnum):
    PLAIN = "plain"
    """``type``, ``timestamp`` and ``data``, as Standard Webhooks 1.0.0 proposes."""
    CLOUDEVENTS = "cloudevents"
    """CloudEvents in structured mode: all in the body."""
    CLOUDEVENTS_BINARY = "cloudevents-binary"
    """CloudEvents in binary mode: the data is the body, all else are headers."""


@dataclass(frozen=True, slots=True)
class Body:
    """The bytes to post, and the headers that go with them."""

    content: bytes
    content_type: str
    headers: Mapping[str, str] = field(default_factory=dict)


def pack(notice: Notice, envelope: Envelope = Envelope.PLAIN, source: str = "") -> Body:
    """Write the body; the same for the same notice.

    Args:
        source: of events, a URI reference; empty: made from the site's name.

    >>> from parchd.contract import NoticeKind
    >>> notice = Notice("n1", NoticeKind.TEST, 0, "Quillmere Orchard", "Test", "It works.")
    >>> body = json.loads(pack(notice).content)
    >>> body["type"], body["timestamp"], body["data"]["subject"]
    ('test', '1970-01-01T00:00:00Z', 'Test')
    >>> event = json.loads(pack(notice, Envelope.CLOUDEVENTS).content)
    >>> event["type"], event["source"], event["time"]
    ('parchd.test', '/parchd/Quillmere%20Orchard', '1970-01-01T00:00:00Z')
    """
    if envelope is Envelope.PLAIN:
        return Body(fitted(lambda cut: _json(_plain(notice, cut))), "application/json")
    attributes = _attributes(notice, source)
    if envelope is Envelope.CLOUDEVENTS:
        event: dict[str, JsonValue] = {**attributes}
        content = fitted(lambda cut: _json({**event, "data": data_of(notice, cut)}))
        return Body(content, "application/cloudevents+json; charset=utf-8")
    del attributes["datacontenttype"]  # that is Content-Type
    headers = {f"ce-{name}": quote(value, safe=_PLAIN_IN_HEADERS) for name, value in attributes.items()}
    return Body(fitted(lambda cut: _json(data_of(notice, cut))), "application/json", headers)


def type_of(notice: Notice) -> str:
    """What happened, in a word; a notice that does not say so is of the type that its kind is."""
    kind = notice.data.get("type")
    return kind if isinstance(kind, str) and kind else notice.kind.value


def _plain(notice: Notice, cut: Cut) -> JsonValue:
    return {"type": type_of(notice)[: cut.chars], "timestamp": _timestamp(notice), "data": data_of(notice, cut)}


def _attributes(notice: Notice, source: str) -> dict[str, str]:
    attributes = {
        "specversion": "1.0",
        "id": notice.id,
        "source": source or f"/parchd/{quote(_text(notice.site), safe='')}",
        "type": f"parchd.{_text(type_of(notice))}",
        "time": _timestamp(notice),
        "datacontenttype": "application/json",
        "dataschema": f"{SCHEMA}#/$defs/data",
    }
    subject = notice.data.get("subject")
    if isinstance(subject, str) and _text(subject):
        attributes["subject"] = _text(subject)
    return attributes


def _text(text: str) -> str:
    return _NO_CHARACTER.sub(" ", text)[:LONGEST_ATTRIBUTE].strip()


def _timestamp(notice: Notice) -> str:
    return to_datetime(notice.time_us).isoformat().replace("+00:00", "Z")


def _json(value: JsonValue) -> bytes:
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8", "replace")
