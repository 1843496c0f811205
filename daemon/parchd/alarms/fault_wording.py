"""What is said of faults, of the ground beside irrigation, of the daemon itself, and of rules of one's own."""

from collections.abc import Iterator

from parchd.alarms.advice import FAULT_WORDS
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.ground_words import GROUND_WORDS
from parchd.alarms.kinds import DAEMON_KINDS
from parchd.alarms.names import Spot
from parchd.alarms.rule_wording import held_words
from parchd.alarms.rules import AlarmKind
from parchd.alarms.said import Pair, Said
from parchd.alarms.system_words import SYSTEM_WORDS
from parchd.words import Voice

TABLE_WORDS = {**FAULT_WORDS, **GROUND_WORDS, **SYSTEM_WORDS}


def fault_said(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    """Say what is wrong with a tensiometer, the ground or the daemon, or that it is over."""
    words, kind = TABLE_WORDS[event.key.kind], event.key.kind
    facts = tuple(_facts(event, voice))
    no_say = kind in FAULT_WORDS
    if event.change is Change.CLEARED:
        cleared = voice.say(words.cleared)
        need = cleared if spot.place == spot.full else f"{cleared} ({spot.full if kind in DAEMON_KINDS else spot.name})"
        means = voice.say("Its readings count again." if no_say else "All is well again.")
        what = f"{spot.opening}: {cleared}."
        return Said(need, what, _sure(event, voice), means, voice.say("Nothing: this is over."), facts=facts)
    cause = voice.word(str(event.evidence.get("cause") or "")) or voice.say(words.subject)
    trust = voice.say("Its readings neither raise nor clear an irrigation alarm until it is right again.")
    first, *then = (voice.say(step, name=spot.name) for step in words.advice)
    return Said(
        need=f"{voice.say(words.need, name=spot.name)} ({cause})",
        what=f"{spot.opening}: {cause}.",
        sure=_sure(event, voice),
        means=f"{voice.say(words.summary)} {trust}" if no_say else voice.say(words.summary),
        do=first,
        then=tuple(then),
        facts=facts,
    )


def own_said(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    """Say what a rule says itself; it goes with the event, for the rule may be another by the time it is read."""
    say = str(event.evidence.get("say") or "") or voice.say("its conditions hold")
    sure = voice.say("Certain: its conditions are checked with readings that passed all tests.")
    facts = tuple(_facts(event, voice))
    if event.change is Change.CLEARED:
        return Said(
            need=voice.say("no more: {say} ({name})", say=say, name=spot.name),
            what=voice.say("The conditions of your rule {name} hold no longer.", name=spot.name),
            sure=sure,
            means=voice.say("What your rule {name} watches for is over.", name=spot.name),
            do=voice.say("Nothing: this is over."),
            facts=facts,
        )
    usual = voice.say("It is your own rule: [rules.{name}] in the configuration.", name=spot.name)
    return Said(
        need=f"{say} ({spot.name})",
        what=voice.say("Your rule {name} holds: {say}.", name=spot.name, say=say.rstrip(".")),
        sure=sure,
        means=voice.say("You have asked to be told of this."),
        do=str(event.evidence.get("respond") or "") or usual,
        facts=facts,
    )


def _sure(event: AlarmEvent, voice: Voice) -> str:
    kind = event.key.kind
    if kind in DAEMON_KINDS:
        return voice.say("Certain: the daemon sees it by itself.")
    if kind in GROUND_WORDS:
        return voice.say("As sure as its readings, which passed all tests.")
    if kind is AlarmKind.SILENT:
        return voice.say("Certain: whether something arrives can be counted.")
    return voice.say("Certain: several readings in a row say so.")


def _facts(event: AlarmEvent, voice: Voice) -> Iterator[Pair]:
    evidence = event.evidence
    if event.tension_kpa is not None:
        yield voice.say("Tension"), voice.tension(event.tension_kpa, 1)
    if event.limit_kpa is not None:
        yield voice.say("Limit"), voice.tension(event.limit_kpa, 1)
    if (channel := evidence.get("channel")) is not None:
        yield voice.say("Channel"), str(channel)
    if isinstance(value := evidence.get("value"), int | float):
        yield voice.say("Last sample"), f"{voice.short(value)} {evidence.get('unit') or ''}".rstrip()
    yield from _reasons(event, voice)
    if "last_heard_us" in evidence:
        heard_us = evidence["last_heard_us"]
        yield voice.say("Last heard"), voice.local(heard_us) if isinstance(heard_us, int) else voice.say("never")


def _reasons(event: AlarmEvent, voice: Voice) -> Iterator[Pair]:
    """What a server said, what is left of a disk, which conditions of a rule hold."""
    if trouble := event.evidence.get("trouble"):
        yield voice.say("What it said"), str(trouble)
    if isinstance(free_mb := event.evidence.get("free_mb"), int | float):
        yield voice.say("Free"), f"{voice.number(free_mb)} MB"
    for words in held_words(event, voice):
        yield voice.say("Holds"), words
