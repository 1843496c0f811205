"""The one message that stands for many."""

from collections.abc import Sequence
from zoneinfo import ZoneInfo

from parchd.clock import to_datetime
from parchd.contract import JsonValue, Notice, NoticeKind, Priority, Table

LISTED = 300
LISTED_AS_DATA = 50
UTC = ZoneInfo("UTC")


def urgency(kind: NoticeKind, priority: Priority) -> int:
    """Rank for sending and listing, the lowest first.

    >>> [urgency(kind, Priority.HIGH) for kind in (NoticeKind.OVERFLOW, NoticeKind.RAISED, NoticeKind.CLEARED)]
    [0, 1, 2]
    """
    if kind is NoticeKind.OVERFLOW:
        return 0
    return 1 if kind is NoticeKind.RAISED and priority is Priority.HIGH else 2


def overflow_notice(notices: Sequence[Notice], *, notice_id: str, now_us: int, zone: ZoneInfo = UTC) -> Notice:
    """Compose the message that replaces ``notices``: a table with time, kind, priority and subject of each.

    Raised alarms of high priority stand first, then the newest. 300 rows are listed, and the first 50 for programs;
    what is left out is counted. The newest digest among them keeps its tables.

    Args:
        notices: two or more, of one site.
        notice_id: its idempotency key.
        now_us: when it was composed, microseconds UTC.
        zone: for the times in the table.

    Raises:
        ValueError: there are no notices.
    """
    if not notices:
        raise ValueError("an overflow message needs notices to stand for")
    ordered = sorted(notices, key=lambda notice: (urgency(notice.kind, notice.priority), -notice.time_us))
    urgent = sum(urgency(notice.kind, notice.priority) == 1 for notice in ordered)
    return Notice(
        id=notice_id,
        kind=NoticeKind.OVERFLOW,
        time_us=now_us,
        site=ordered[0].site,
        subject=f"{len(ordered)} messages in one" + (f", {urgent} of high priority" if urgent else ""),
        summary=(
            f"{len(ordered)} messages were waiting, more than may be sent to you within an hour."
            " This message replaces them; none of them comes on its own."
        ),
        facts=_facts(ordered),
        advice=("Look at the state of the site before you act: an alarm listed here may have cleared since.",),
        tables=(_table(ordered[:LISTED], zone), *_digest_tables(ordered)),
        priority=max(notice.priority for notice in ordered),
        data=_data(ordered),
    )


def _facts(ordered: Sequence[Notice]) -> tuple[tuple[str, str], ...]:
    counts = {kind: sum(notice.kind is kind for notice in ordered) for kind in NoticeKind}
    facts = [(kind.value.capitalize(), str(count)) for kind, count in counts.items() if count]
    if len(ordered) > LISTED:
        facts.append(("Not listed", f"{len(ordered) - LISTED}, the oldest"))
    return tuple(facts)


def _table(listed: Sequence[Notice], zone: ZoneInfo) -> Table:
    rows = tuple((_local(n.time_us, zone), n.kind.value, n.priority.word, n.subject) for n in listed)
    return Table(f"Messages ({zone.key} time)", ("When", "What", "Priority", "Subject"), rows)


def _local(time_us: int, zone: ZoneInfo) -> str:
    return to_datetime(time_us).astimezone(zone).strftime("%Y-%m-%d %H:%M")


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
