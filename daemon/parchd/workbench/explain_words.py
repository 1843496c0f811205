"""What is said of a tensiometer, ready for a terminal and for a page."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from parchd.contract import Flag
from parchd.diagnosis.facts import duration
from parchd.diagnosis.findings import End, Event
from parchd.diagnosis.kinds import EventKind
from parchd.diagnosis.words import (
    EVENT_WORDS,
    STAR,
    WORDS,
    consequence_words,
    fact_words,
    spoken,
)  # fmt: skip
from parchd.workbench.explain_case import Explained, Portrait, Told
from parchd.workbench.explain_state import FLAG_WORDS, HOUR_US, Pair, local_times, state_words, sure

_ENDS = {
    End.RECOVERED: "its readings showed that all was well again",
    End.SERVICED: "a service was written down",
    End.DISMISSED: "a person dismissed it",
    End.REFINED: "another finding explains the same evidence better",
    End.REPEATED: "it happened again; see the next finding",
}


@dataclass(frozen=True, slots=True)
class FindingBlock:
    """One finding, with all that is to be said of it.

    Args:
        word: what it does, e.g. ``cannot be believed``.
        facts: begin, when it was found, confidence, and the evidence.
        doing: steps in order; none for one that is over.
        notes: consequences, and when it is trusted again.
    """

    title: str
    word: str
    is_open: bool
    facts: tuple[Pair, ...]
    meaning: str
    doing: tuple[str, ...] = ()
    notes: tuple[Pair, ...] = ()


@dataclass(frozen=True, slots=True)
class Happening:
    """An event or a service."""

    time_us: int
    when: str
    what: str
    facts: tuple[Pair, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """All words about one tensiometer, in reading order."""

    heading: str
    span: str
    portrait: tuple[Pair, ...]
    verdict: str
    state: str
    findings: tuple[FindingBlock, ...]
    dismissed: tuple[FindingBlock, ...]
    happenings: tuple[Happening, ...]
    flags: tuple[Pair, ...]
    star: str = ""


def report(case: Explained) -> Report:
    """Put all of it into words."""
    local = local_times(case.portrait.time_zone)
    verdict, state = state_words(case, local)
    past = [told for told in reversed(case.findings) if not told.finding.is_open and not told.is_dismissed]
    blocks = tuple(_block(told, case.portrait, local) for told in (*case.open_findings(), *past))
    dismissed = tuple(_block(told, case.portrait, local) for told in reversed(case.findings) if told.is_dismissed)
    starred = any("*" in text for block in blocks for text in block.doing)
    return Report(
        heading=case.portrait.name,
        span=f"{local(case.start_us)} to {local(case.end_us)} ({case.portrait.time_zone})",
        portrait=tuple(_portrait(case.portrait)),
        verdict=verdict,
        state=state,
        findings=blocks,
        dismissed=dismissed,
        happenings=tuple(sorted(_happenings(case, local), key=lambda one: one.time_us)),
        flags=tuple(_flags(case)),
        star=f"* {STAR.source}" if starred else "",
    )


def cut(blocks: Sequence[FindingBlock], most: int) -> tuple[list[FindingBlock], int]:
    """Keep all findings that hold, and at most so many that are over; say how many are left out."""
    over = [block for block in blocks if not block.is_open]
    return [*(block for block in blocks if block.is_open), *over[:most]], max(0, len(over) - most)


def _portrait(one: Portrait) -> Iterator[Pair]:
    yield "Zone", one.zone
    yield "Station", one.station
    yield "Depth", f"{one.depth_m * 100:.0f} cm"
    yield "Head", f"{one.head_kpa:z.1f} kPa ({one.height_m * 100:.0f} cm of water above the cup)"
    yield "Usable limit", f"{one.limit_kpa:.0f} kPa"
    if one.limits:
        yield "Its zone", ", ".join(f"{words} at {kpa:.0f} kPa" for words, kpa in one.limits)
    yield "Channel", f"{one.channel}, every {duration(one.interval_s / 3600.0)}"


def _block(told: Told, portrait: Portrait, local: Callable[[int], str]) -> FindingBlock:
    finding, words = told.finding, WORDS[told.finding.key.kind]
    facts = [("Evidence begins", local(finding.start_us)), ("Found", local(finding.found_us))]
    facts.append(("Confidence", f"{sure(told)} ({100 * finding.confidence:.0f} %)"))
    facts += [fact_words(fact, local) for fact in finding.facts]
    if finding.key.subject.startswith("source/"):
        facts.append(("Concerns", f"all of source {finding.key.name}"))
    elif others := [name for name in (finding.key.name, *finding.others) if name != portrait.name]:
        facts.append(("Concerns too", ", ".join(others)))
    if finding.end is not None and finding.ended_us is not None and not told.is_dismissed:
        facts.append(("Ended", f"{local(finding.ended_us)}: {_ENDS[finding.end]}"))
    holds = finding.is_open and not told.is_dismissed
    notes = [("For its readings", consequence_words(finding.key.kind))] if holds else []
    if holds:
        notes.append(("Trusted again", spoken(words.trust_again, portrait.name)))
        dismiss = f"parchd dismiss {finding.key.name} {finding.key.kind} --because TEXT"
        notes.append(("If it is wrong", f"Say so, with your reason: {dismiss}."))
    if told.dismissal is not None:
        facts += _dismissal(told, local)
    return FindingBlock(
        title=words.title,
        word=_word(told),
        is_open=holds,
        facts=tuple(facts),
        meaning=spoken(words.meaning),
        doing=tuple(spoken(text, portrait.name) for text in words.doing) if holds else (),
        notes=tuple(notes),
    )


def _word(told: Told) -> str:
    """What it does, in a word or two."""
    if told.is_dismissed:
        return "dismissed"
    word = "worth knowing" if told.flag is Flag.PASS else FLAG_WORDS[told.flag]
    return word if told.finding.is_open else f"{word}, over"


def _dismissal(told: Told, local: Callable[[int], str]) -> Iterator[Pair]:
    assert told.dismissal is not None
    yield "Dismissed", f"{local(told.dismissal.at_us)} by {told.dismissal.by or 'somebody'}"
    yield "Reason", told.dismissal.reason or "none was given"


def _happenings(case: Explained, local: Callable[[int], str]) -> Iterator[Happening]:
    for event in case.events:
        facts = [fact_words(fact, local) for fact in event.facts]
        if event.end_us is None:
            facts.append(("Goes on", "yes"))
        elif event.kind is not EventKind.WETTING and event.end_us - event.start_us >= HOUR_US:
            facts.insert(0, ("Lasted", duration((event.end_us - event.start_us) / HOUR_US)))
        yield Happening(event.start_us, local(event.start_us), event_title(event), tuple(facts))
    for service in case.services:
        texts = (("By", service.by), ("Note", service.note), ("Settled", local(service.end_us)))
        kept = tuple(pair for pair in texts if pair[1])
        yield Happening(service.begin_us, local(service.begin_us), f"{service.work} (written down)", kept)


def event_title(event: Event) -> str:
    """Name an event; a service that nobody wrote down says so."""
    title = EVENT_WORDS[event.kind].title
    return f"{title} (seen)" if event.kind is EventKind.SERVICE else title


def _flags(case: Explained) -> Iterator[Pair]:
    total = sum(case.flags.values())
    for flag in Flag:
        if count := case.flags.get(flag, 0):
            yield f"{flag.value} {flag.word}", f"{share(count, total)} of {total}"


def share(count: int, total: int) -> str:
    """Write a share so that few are never none, and not all never all.

    >>> share(1, 10_000), share(9_999, 10_000), share(1, 3), share(3, 3)
    ('below 0.1 %', 'above 99.9 %', '33.3 %', '100 %')
    """
    percent = 100.0 * count / total
    if percent in (0.0, 100.0):
        return f"{percent:.0f} %"
    if percent < 0.1:
        return "below 0.1 %"
    return "above 99.9 %" if percent > 99.9 else f"{percent:.1f} %"
