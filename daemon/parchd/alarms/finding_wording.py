"""What is said of a finding: that it was found, with its evidence and what to do, and that it is over."""

import math
from collections.abc import Iterable, Iterator

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.names import Spot, listed
from parchd.alarms.said import Pair, Said
from parchd.contract import Flag
from parchd.diagnosis.findings import End, Fact
from parchd.diagnosis.kinds import CONSEQUENCES
from parchd.diagnosis.words import STAR, WORDS, confidence_words, consequence_words, fact_words, spoken
from parchd.words import Voice

_GO_ON = (End.REFINED, End.REPEATED)
"""After these another finding goes on."""


def finding_said(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    """Say what was found, or how it ended."""
    return (_found if event.change is Change.RAISED else _over)(event, spot, voice)


def since_us(event: AlarmEvent) -> int:
    """When it began: for a finding where its evidence begins."""
    begun_us = event.evidence.get("since_us")
    return begun_us if isinstance(begun_us, int) else event.raised_us


def _found(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    kind, name = FINDING_OF[event.key.kind], event.key.name
    words = WORDS[kind]
    title = voice.say(words.title)
    first, *steps = (spoken(step, name, voice) for step in words.doing)
    return Said(
        need=f"{voice.say(words.need, name=name)} ({title})",
        what=f"{spot.opening}: {title}.",
        sure=_sure(event, voice),
        means=" ".join(part for part in (spoken(words.meaning, name, voice), _speakers(event, voice)) if part),
        do=first,
        then=tuple(steps),
        facts=(*_facts(event, voice), *_asides(event, (first, *steps), voice)),
    )


def _over(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    title = voice.say(WORDS[FINDING_OF[event.key.kind]].title)
    end, name = event.evidence.get("end"), event.key.name
    if end in _GO_ON:
        need = voice.say("{title}, see the next message ({name})", title=title, name=name)
    elif end == End.DISMISSED:
        need = voice.say("{title} dismissed ({name})", title=title, name=name)
    else:
        need = voice.say("no more {title} ({name})", title=title, name=name)
    return Said(
        need=need,
        what=f"{spot.opening}: {title}. {_ending(event, voice)}",
        sure=_sure(event, voice),
        means=_believed(event, voice),
        do=voice.say("What the next message says.") if end in _GO_ON else voice.say("Nothing: this is over."),
    )


def _sure(event: AlarmEvent, voice: Voice) -> str:
    confidence, end = event.evidence.get("confidence"), event.evidence.get("end")
    if event.change is Change.CLEARED and end not in _GO_ON:
        by_hand = end in (End.SERVICED, End.DISMISSED)
        return voice.say(
            "As sure as the person who wrote it down." if by_hand else "As sure as its readings, which look well again."
        )
    if not isinstance(confidence, int | float):
        return voice.say("It is not known any more.")
    said = voice.say(
        "{words} ({percent} %)", words=confidence_words(confidence, voice), percent=f"{confidence * 100:.0f}"
    )
    return said[:1].upper() + said[1:]


def _facts(event: AlarmEvent, voice: Voice) -> Iterator[Pair]:
    """Evidence of a finding."""
    yield from (fact_words(fact, voice.local, voice) for fact in _evidence(event))
    if others := listed(event, "others"):
        of_source = event.key.subject.startswith("source/")
        yield voice.say("Tensiometers" if of_source else "With"), ", ".join(others)
    if "of" in event.evidence:
        yield voice.say("Still believed in the zone"), _count(event, voice)


def _asides(event: AlarmEvent, steps: Iterable[str], voice: Voice) -> Iterator[Pair]:
    """When it is believed again, what to do if it is wrong, and what stars stand for."""
    kind, name = FINDING_OF[event.key.kind], event.key.name
    yield voice.say("Its readings"), consequence_words(kind, voice)
    yield voice.say("Believed again"), spoken(WORDS[kind].trust_again, name, voice)
    wrong = voice.say("parchd dismiss {name} {kind} --because REASON", name=name, kind=kind.value)
    yield voice.say("If you know that it is wrong"), wrong
    if any("*" in said for said in steps):
        yield "*", voice.say(STAR)


def _ending(event: AlarmEvent, voice: Voice) -> str:
    match event.evidence.get("end"):
        case End.SERVICED:
            return voice.say("A service was written down.")
        case End.DISMISSED:
            because = str(event.evidence.get("because") or voice.say("no reason was given"))
            if by := event.evidence.get("by"):
                return voice.say("The finding was dismissed by {by}, because: {because}", by=str(by), because=because)
            return voice.say("The finding was dismissed, because: {because}", because=because)
        case End.REFINED:
            return voice.say("Another finding explains the same better.")
        case End.REPEATED:
            return voice.say("It happened again.")
        case _:
            return voice.say("Its readings show that all is well again.")


def _believed(event: AlarmEvent, voice: Voice) -> str:
    believed_us = event.evidence.get("believed_from_us")
    if CONSEQUENCES[FINDING_OF[event.key.kind]].flag is Flag.PASS or event.evidence.get("end") in _GO_ON:
        return voice.say("Its readings keep the flags that they have.")
    if isinstance(believed_us, int):
        return voice.say("It is believed from {time} on.", time=voice.local(believed_us))
    return voice.say("It is believed again.")


def _speakers(event: AlarmEvent, voice: Voice) -> str:
    """Who speaks for the zone meanwhile."""
    if "of" not in event.evidence:
        return ""
    names = listed(event, "believed")
    if not names:
        return voice.say("No tensiometer of the zone can be believed now: whether it needs water is unknown.")
    return voice.say_n(
        "Meanwhile {names} speaks for the zone.",
        "Meanwhile {names} speak for the zone.",
        len(names),
        names=voice.listing(names),
    )


def _count(event: AlarmEvent, voice: Voice) -> str:
    names = listed(event, "believed")
    count = voice.say("{count} of {of}", count=len(names), of=str(event.evidence["of"]))
    return count + (f" ({', '.join(names)})" if names else "")


def _evidence(event: AlarmEvent) -> Iterator[Fact]:
    facts = event.evidence.get("facts")
    for fact in facts if isinstance(facts, list) else ():
        if isinstance(fact, list) and len(fact) == 3:
            what, value, unit = fact
            known = value if isinstance(value, int | float | str) else math.nan
            yield Fact(str(what), known, str(unit))
