"""What is said of several alarms at once: those that were gathered, and floods."""

from collections.abc import Sequence
from dataclasses import dataclass

from parchd.contract import Chart, JsonValue, Notice, NoticeKind, Priority, Table
from parchd.contract.notice_words import KIND_WORDS, PRIORITY_WORDS
from parchd.words import Voice

MOST_STEPS = 6
"""What to do is said of so many alarms; the list has all of them."""


@dataclass(frozen=True, slots=True)
class Tiding:
    """One alarm among several.

    Args:
        notice: the message about it alone, in the voice of the reader.
        asks: it asks for a response.
        is_over: it was raised and is over again.
        comes_and_goes: it was raised so often that it is told no more for a while.
        since_us: when the first of it happened.
    """

    notice: Notice
    asks: bool
    is_over: bool = False
    comes_and_goes: bool = False
    since_us: int = 0

    def word(self, voice: Voice) -> str:
        """What happened, in a word or two."""
        if self.is_over:
            return voice.say("raised and over again")
        return voice.say("comes and goes") if self.comes_and_goes else voice.say(KIND_WORDS[self.notice.kind])


def several_notice(
    kind: NoticeKind,
    tidings: Sequence[Tiding],
    voice: Voice,
    *,
    notice_id: str,
    time_us: int,
    site: str,
    priority: Priority,
    alarms: int = 0,
    data: dict[str, JsonValue] | None = None,
) -> Notice:
    """Write one message about several alarms.

    Args:
        kind: ``group``, or ``flood``: more than anybody can read.
        tidings: the most urgent first; at least one.
        alarms: of a flood: how many there were in ten minutes.
    """
    first = tidings[0].notice
    flood = kind is NoticeKind.FLOOD
    count = max(alarms, len(tidings)) if flood else len(tidings)
    return Notice(
        id=notice_id,
        kind=kind,
        time_us=time_us,
        site=site,
        subject=_subject(first.subject, count, voice, flood=flood),
        summary=_what(tidings, count, voice, flood=flood),
        advice=tuple(_steps(tidings)),
        tables=(_table(tidings, voice),),
        priority=priority,
        data=data or {},
        lines=(
            (voice.say("What"), _what(tidings, count, voice, flood=flood)),
            (
                voice.say("Since when"),
                voice.say("The first {time}.", time=voice.local(min(t.since_us for t in tidings))),
            ),
            (voice.say("How sure"), voice.say("Each has its own evidence: parchd alarms and parchd findings show it.")),
            (voice.say("What it means"), _meaning(voice, flood=flood)),
            (voice.say("What to do"), _do(tidings, voice, flood=flood)),
        ),
        charts=_charts(tidings),
        voice=voice,
    )


def _subject(first: str, count: int, voice: Voice, *, flood: bool) -> str:
    if flood:
        return voice.say_n(
            "{first}: one alarm in ten minutes",
            "{first}, the most urgent of {n} alarms in ten minutes",
            count,
            first=first,
        )
    return first if count == 1 else voice.say("{first}, and {others} more", first=first, others=count - 1)


def _what(tidings: Sequence[Tiding], count: int, voice: Voice, *, flood: bool) -> str:
    if flood:
        return voice.say_n("{n} alarm came within ten minutes.", "{n} alarms came within ten minutes.", count)
    asking = sum(tiding.asks for tiding in tidings)
    said = [voice.say_n("{n} alarm asks for a response.", "{n} alarms ask for a response.", asking)] if asking else []
    if over := len(tidings) - asking:
        said.append(voice.say_n("{n} is over.", "{n} are over.", over))
    return " ".join(said)


def _meaning(voice: Voice, *, flood: bool) -> str:
    if flood:
        return voice.say("They have one cause or a few: it is most likely one thing that many depend on.")
    return voice.say("None of them was so urgent that it could not wait for the others.")


def _do(tidings: Sequence[Tiding], voice: Voice, *, flood: bool) -> str:
    if flood:
        return voice.say("Look for the one cause: a gateway, a supply, the network, frost. Take the high ones first.")
    if any(tiding.asks for tiding in tidings):
        return voice.say("Begin with the first of the list.")
    return voice.say("Nothing: this is over.")


def _steps(tidings: Sequence[Tiding]) -> list[str]:
    """What to do first about each that asks for it."""
    asking = [tiding.notice for tiding in tidings if tiding.asks and tiding.notice.lines]
    return [f"{notice.subject}: {notice.lines[-1][1]}" for notice in asking[:MOST_STEPS]]


def _table(tidings: Sequence[Tiding], voice: Voice) -> Table:
    rows = tuple(
        (
            voice.moment(tiding.notice.time_us),
            tiding.word(voice),
            voice.say(PRIORITY_WORDS[tiding.notice.priority]),
            tiding.notice.subject,
        )
        for tiding in tidings
    )
    columns = (voice.say("When"), voice.say("What"), voice.say("Priority"), voice.say("Alarm"))
    return Table(voice.say("Alarms"), columns, rows)


def _charts(tidings: Sequence[Tiding]) -> tuple[Chart, ...]:
    """The picture of the most urgent one that has any."""
    return next((tiding.notice.charts for tiding in tidings if tiding.notice.charts), ())
