"""``parchd findings``"""

import csv
import sys
from argparse import Namespace
from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from parchd.alarms.wording import Names
from parchd.app.setup import names
from parchd.cli.alarms import utc
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.clock import SystemClock
from parchd.diagnosis.findings import End, Event, Fact
from parchd.diagnosis.words import EVENT_WORDS, WORDS, confidence_words, fact_words
from parchd.store import findings
from parchd.store.database import open_reader
from parchd.store.findings import FindingRecord

COLUMNS = (
    "begin_utc", "what", "kind", "subject", "found_utc", "confidence", "end_utc", "end", "by", "because", "others",
    "evidence",
)  # fmt: skip


def command(arguments: Namespace) -> Exit:
    """Show what the diagnosis finds now, what it found in a span of time, and what happened there."""
    loaded = load_config(arguments.config)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us + 1 if arguments.until is None else parse_time(arguments.until, zone, now_us)
    connection = open_reader(loaded.store.path)
    try:
        held = list(findings.open_findings(connection).values())
        past = findings.past_findings(connection, start_us, end_us)
        events = findings.events(connection, start_us, end_us)
    finally:
        connection.close()
    if not arguments.all:
        past = [record for record in past if record.finding.end is not End.REFINED]
    if arguments.csv:
        _print_csv(held, past, events)
    else:
        print("\n".join(_lines(held, past, events, names(loaded))))
    return Exit.OK


def _lines(
    held: Sequence[FindingRecord], past: Sequence[FindingRecord], events: Sequence[Event], called: Names
) -> Iterator[str]:
    yield f"Open now: {len(held) or 'none'}"
    for record in held:
        yield from _of(record, called)
    yield f"\nHistory: {len(past) or 'nothing in this span'}"
    for record in past:
        yield from _of(record, called)
    yield f"\nEvents: {len(events) or 'none in this span'}"
    for event in events:
        until = "" if event.end_us is None else f" until {called.local(event.end_us)}"
        yield f"  {called.local(event.start_us)}{until}  {_place(event.subject)}: {EVENT_WORDS[event.kind].title}"
        yield from _evidence(event.facts, called)


def _of(record: FindingRecord, called: Names) -> Iterator[str]:
    finding = record.finding
    sure = f"{confidence_words(finding.confidence)} ({finding.confidence * 100:.0f} %)"
    title = f"{WORDS[finding.key.kind].title} [{finding.key.kind.value}]"
    yield f"  since {called.local(finding.start_us)}  {_place(finding.key.subject)}: {title}, {sure}"
    yield from _evidence(finding.facts, called)
    if finding.others:
        yield f"      with {', '.join(finding.others)}"
    if finding.end is not None:
        yield f"      {_ending(record, called)}"


def _ending(record: FindingRecord, called: Names) -> str:
    finding = record.finding
    if finding.end is End.DISMISSED:
        by = f" by {record.by}" if record.by else ""
        when = "" if record.closed_us is None else f" on {called.local(record.closed_us)}"
        return f"dismissed{by}{when}: {record.because}"
    if finding.end is End.REFINED:
        return "gave way to a finding that explains the same better"
    if finding.end is End.REPEATED:
        return "it happened again: the next finding goes on"
    believed = "" if finding.ended_us is None else f", believed from {called.local(finding.ended_us)} on"
    return f"{'serviced' if finding.end is End.SERVICED else 'recovered'}{believed}"


def _evidence(facts: Sequence[Fact], called: Names) -> Iterator[str]:
    if facts:
        yield "      " + "; ".join(" ".join(fact_words(fact, called.local)) for fact in facts)


def _place(subject: str) -> str:
    """
    >>> _place("tensiometer/north-20"), _place("source/bus1"), _place("station/north/post 1")
    ('north-20', 'source bus1', 'station north/post 1')
    """
    kind, _, name = subject.partition("/")
    return name if kind == "tensiometer" else f"{kind} {name}"


def _print_csv(held: Sequence[FindingRecord], past: Sequence[FindingRecord], events: Sequence[Event]) -> None:
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(COLUMNS)
    for record in (*held, *past):
        one = record.finding
        writer.writerow(
            (
                utc(one.start_us), "finding", one.key.kind.value, one.key.subject, utc(one.found_us),
                f"{one.confidence:.3g}", "" if one.ended_us is None else utc(one.ended_us),
                "" if one.end is None else one.end.value, record.by, record.because, " ".join(one.others),
                _facts(one.facts),
            )
        )  # fmt: skip
    for event in events:
        end = "" if event.end_us is None else utc(event.end_us)
        row = (utc(event.start_us), "event", event.kind.value, event.subject, "", "", end, "", "", "", "")
        writer.writerow((*row, _facts(event.facts)))


def _facts(facts: Sequence[Fact]) -> str:
    return "; ".join(" ".join(fact_words(fact, utc)) for fact in facts)
