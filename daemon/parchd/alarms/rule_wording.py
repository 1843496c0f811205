"""What is said of the conditions of a rule that held when it was raised."""

from collections.abc import Iterator, Mapping

from parchd.alarms.events import AlarmEvent
from parchd.alarms.terms import Quantity
from parchd.contract import JsonValue
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.words import WORDS
from parchd.words import Voice


def held_words(event: AlarmEvent, voice: Voice) -> Iterator[str]:
    """Say each condition that held."""
    held = event.evidence.get("held")
    for term in held if isinstance(held, list) else ():
        if isinstance(term, dict):
            yield _level(term, voice) if "limit" in term else _presence(term, voice)


def _level(term: Mapping[str, JsonValue], voice: Voice) -> str:
    name, value, limit = str(term.get("name")), term.get("value"), term.get("limit")
    if not isinstance(value, int | float) or not isinstance(limit, int | float):
        return name
    match term.get("what"):
        case Quantity.RISE | Quantity.ZONE_RISE:
            return voice.say(
                "{name} dries by {value} a day (limit {limit})", name=name, value=voice.tension(value, 1),
                limit=voice.tension(limit, 1),
            )  # fmt: skip
        case Quantity.TENSION | Quantity.ZONE_TENSION:
            return voice.say(
                "{name} stands at {value} (limit {limit})", name=name, value=voice.tension(value, 1),
                limit=voice.tension(limit, 1),
            )  # fmt: skip
        case _:
            return voice.say(
                "{name} says {value} (limit {limit})", name=name, value=voice.short(value), limit=voice.short(limit)
            )


def _presence(term: Mapping[str, JsonValue], voice: Voice) -> str:
    name, what = str(term.get("name")), str(term.get("what"))
    known = what in {kind.value for kind in FindingKind}
    title = voice.say(WORDS[FindingKind(what)].title) if known else voice.say("no data")
    if term.get("absent"):
        return voice.say("{name}: not the case: {finding}", name=name, finding=title)
    return f"{name}: {title}"
