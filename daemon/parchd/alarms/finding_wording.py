"""What is said of a finding: that it was found, with its evidence and what to do, and that it is over."""

import math
from collections.abc import Callable, Iterator

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.findings import FINDING_OF
from parchd.contract import Flag
from parchd.diagnosis.findings import End, Fact
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.diagnosis.words import STAR, WORDS, confidence_words, consequence_words, fact_words, spoken

Local = Callable[[int], str]
"""Writes a time as people of the site read it."""


def finding_words(event: AlarmEvent, title: str, local: Local) -> tuple[str, str, tuple[str, ...]]:
    """Subject, summary and advice of the message about a finding.

    Args:
        title: what people call the tensiometer or source.
    """
    kind = FINDING_OF[event.key.kind]
    words = WORDS[kind]
    if event.change is Change.CLEARED:
        return f"{title}: no more {words.title}", f"{_subject(event, title)}: {_ending(event, local)}", ()
    name = event.key.name
    doubts = "" if CONSEQUENCES[kind].flag is Flag.PASS else consequence_words(kind)
    summary = " ".join(part for part in (spoken(words.meaning), doubts, _speakers(event)) if part)
    wrong = f"If you know that this is wrong: parchd dismiss {name} {kind.value} --because REASON"
    again = spoken(words.trust_again, name)
    advice = [*(spoken(step, name) for step in words.doing), f"When it is believed again: {again}", wrong]
    if any("*" in text for text in advice):
        advice.append(STAR.source)
    return f"{title}: {words.title}", summary, tuple(advice)


def finding_facts(event: AlarmEvent, local: Local) -> Iterator[tuple[str, str]]:
    """Evidence of a finding, with how sure and since when."""
    if event.change is Change.CLEARED:
        return
    confidence = event.evidence.get("confidence")
    if isinstance(confidence, int | float):
        yield "How sure", f"{confidence_words(confidence)} ({confidence * 100:.0f} %)"
    yield from (fact_words(fact, local) for fact in _facts(event))
    if others := _names(event, "others"):
        yield ("Tensiometers" if event.key.subject.startswith("source/") else "With"), ", ".join(others)
    if "of" in event.evidence:
        yield "Still believed in the zone", _count(event)


def since_us(event: AlarmEvent) -> int:
    """When it began: for a finding where its evidence begins."""
    begun_us = event.evidence.get("since_us")
    return begun_us if isinstance(begun_us, int) else event.raised_us


def _subject(event: AlarmEvent, title: str) -> str:
    return title if event.key.subject.startswith("source/") else f"Tensiometer {title}"


def _ending(event: AlarmEvent, local: Local) -> str:
    believed_us = event.evidence.get("believed_from_us")
    believed = (
        f"it is believed from {local(believed_us)} on" if isinstance(believed_us, int) else "it is believed again"
    )
    match event.evidence.get("end"):
        case End.SERVICED:
            return f"a service was written down; {believed}."
        case End.DISMISSED:
            by = f" by {event.evidence['by']}" if event.evidence.get("by") else ""
            return f"the finding was dismissed{by}, because: {event.evidence.get('because')}"
        case End.REFINED:
            return "another finding explains the same better."
        case _:
            return f"its readings show that all is well again; {believed}."


def _speakers(event: AlarmEvent) -> str:
    """Who speaks for the zone meanwhile."""
    if "of" not in event.evidence:
        return ""
    names = _names(event, "believed")
    if not names:
        return "No tensiometer of the zone can be believed now: whether it needs water is unknown."
    return f"Meanwhile {', '.join(names)} {'speaks' if len(names) == 1 else 'speak'} for the zone."


def _count(event: AlarmEvent) -> str:
    names = _names(event, "believed")
    return f"{len(names)} of {event.evidence['of']}" + (f" ({', '.join(names)})" if names else "")


def _facts(event: AlarmEvent) -> Iterator[Fact]:
    facts = event.evidence.get("facts")
    for fact in facts if isinstance(facts, list) else ():
        if isinstance(fact, list) and len(fact) == 3:
            what, value, unit = fact
            known = value if isinstance(value, int | float | str) else math.nan
            yield Fact(str(what), known, str(unit))


def _names(event: AlarmEvent, key: str) -> list[str]:
    names = event.evidence.get(key)
    return [str(name) for name in names] if isinstance(names, list) else []
