"""The one message that stands for many."""

from collections.abc import Sequence

from parchd.clock import to_datetime
from parchd.contract import JsonValue, Notice, NoticeKind, Priority, Table
from parchd.contract.notice_words import KIND_WORDS, PRIORITY_WORDS
from parchd.words import Voice

LISTED = 300
LISTED_AS_DATA = 50
_ASKING = frozenset(
    {
        NoticeKind.RAISED, NoticeKind.REPEATED, NoticeKind.REMINDER, NoticeKind.ESCALATED, NoticeKind.GROUP,
        NoticeKind.FLOOD,
    }
)  # fmt: skip
"""Kinds of messages that ask for a response."""


def urgency(kind: NoticeKind, priority: Priority) -> int:
    """Rank for sending and listing, the lowest first.

    >>> [urgency(kind, Priority.HIGH) for kind in (NoticeKind.OVERFLOW, NoticeKind.RAISED, NoticeKind.CLEARED)]
    [0, 1, 2]
    """
    if kind is NoticeKind.OVERFLOW:
        return 0
    return 1 if kind in _ASKING and priority is Priority.HIGH else 2


def overflow_notice(notices: Sequence[Notice], *, notice_id: str, now_us: int) -> Notice:
    """Compose the message that replaces ``notices``: a table with time, kind, priority and subject of each.

    It is spoken as the newest of them.

    Raised alarms of high priority stand first, then the newest. 300 rows are listed, and the first 50 for programs;
    what is left out is counted. The newest digest among them keeps its tables.

    Args:
        notices: two or more, of one site, to one recipient.
        notice_id: its idempotency key.
        now_us: when it was composed, microseconds UTC.

    Raises:
        ValueError: there are no notices.
    """
    if not notices:
        raise ValueError("an overflow message needs notices to stand for")
    ordered = sorted(notices, key=lambda notice: (urgency(notice.kind, notice.priority), -notice.time_us))
    urgent = sum(urgency(notice.kind, notice.priority) == 1 for notice in ordered)
    count, voice = len(ordered), max(notices, key=lambda notice: notice.time_us).voice
    subject = voice.say("{n} messages in one", n=count)
    if urgent:
        subject = voice.say("{subject}, {urgent} of high priority", subject=subject, urgent=urgent)
    return Notice(
        id=notice_id,
        kind=NoticeKind.OVERFLOW,
        time_us=now_us,
        site=ordered[0].site,
        subject=subject,
        summary=voice.say(
            "{n} messages were waiting, more than may be sent to you within an hour. This message replaces them; none "
            "of them comes on its own.",
            n=count,
        ),
        facts=_facts(ordered, voice),
        advice=(
            voice.say("Look at the state of the site before you act: an alarm listed here may have cleared since."),
        ),
        tables=(_table(ordered[:LISTED], voice), *_digest_tables(ordered)),
        priority=max(notice.priority for notice in ordered),
        data=_data(ordered),
        voice=voice,
    )


def _facts(ordered: Sequence[Notice], voice: Voice) -> tuple[tuple[str, str], ...]:
    counts = {kind: sum(notice.kind is kind for notice in ordered) for kind in NoticeKind}
    facts = [(_capital(voice.say(KIND_WORDS[kind])), str(count)) for kind, count in counts.items() if count]
    if (more := len(ordered) - LISTED) > 0:
        facts.append((voice.say("Not listed"), voice.say("{n}, the oldest", n=more)))
    return tuple(facts)


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]


def _table(listed: Sequence[Notice], voice: Voice) -> Table:
    rows = tuple(
        (
            voice.moment(notice.time_us),
            voice.say(KIND_WORDS[notice.kind]),
            voice.say(PRIORITY_WORDS[notice.priority]),
            notice.subject,
        )
        for notice in listed
    )
    title = voice.say("Messages ({zone} time)", zone=voice.time_zone)
    return Table(title, (voice.say("When"), voice.say("What"), voice.say("Priority"), voice.say("Subject")), rows)


def _digest_tables(ordered: Sequence[Notice]) -> tuple[Table, ...]:
    digests = [notice for notice in ordered if notice.kind is NoticeKind.DIGEST]
    return digests[0].tables if digests else ()


def _data(ordered: Sequence[Notice]) -> dict[str, JsonValue]:
    messages: list[JsonValue] = [
        {
            "type": n.data.get("type"),
            "kind": n.kind.value,
            "priority": n.priority.word,
            "time": to_datetime(n.time_us).isoformat().replace("+00:00", "Z"),
            "thread": n.thread,
            "subject": n.subject,
        }
        for n in ordered[:LISTED_AS_DATA]
    ]
    return {"type": "messages.merged", "count": len(ordered), "messages": messages}
