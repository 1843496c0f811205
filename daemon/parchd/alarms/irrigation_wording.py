"""What is said of an alarm that asks for water."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.names import Spot
from parchd.alarms.polls import Poll
from parchd.alarms.rules import AlarmKind
from parchd.alarms.said import Pair, Said
from parchd.words import Text, Voice, noted, text

_POLLS: Mapping[str, Text] = MappingProxyType(
    {
        noted("median"): text("Their median counts."),
        noted("any"): text("One that is as dry is enough."),
        noted("mean of stations"): text("The mean of the stations counts."),
    }
)
"""By the word for the way that goes with an event."""
_ADVICE = text("parchd advises, you decide; keep to local rules on water and valves.")


def irrigation_said(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    """Say that a zone needs water, or no longer does.

    A tension that is not known (an alarm taken over from before) is left out.
    """
    words = _raised if event.change is Change.RAISED else _cleared
    return words(event, spot, voice)


def _raised(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    is_now = event.key.kind is AlarmKind.IRRIGATE_NOW
    return Said(
        need=_with_tension(_need(event, voice), event, voice),
        what=_reached(event, spot, voice),
        sure=_sure(event, voice),
        means=voice.say("The plants there take up less water than they need.")
        if is_now
        else voice.say("The limit to irrigate comes next, on most soils within days."),
        do=voice.say("Look at the ground, then irrigate. {advice}", advice=_ADVICE)
        if is_now
        else voice.say("Look at the ground and plan the next irrigation. {advice}", advice=_ADVICE),
        facts=tuple(_facts(event, voice)),
    )


def _cleared(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    is_now = event.key.kind is AlarmKind.IRRIGATE_NOW
    over = voice.say("no more need to irrigate now" if is_now else "no more need to plan an irrigation")
    what = voice.say("The soil water tension of {where} has come down.", where=spot.full)
    if event.tension_kpa is not None and event.limit_kpa is not None:
        what = voice.say(
            "The soil water tension of {where} has come down to {tension}; the limit is {limit}.",
            where=spot.full,
            tension=voice.tension(event.tension_kpa),
            limit=voice.tension(event.limit_kpa),
        )
    return Said(
        need=_with_tension(over, event, voice),
        what=what,
        sure=_sure(event, voice),
        means=voice.say("The plants there have water again."),
        do=voice.say("Nothing: this is over."),
        facts=tuple(_facts(event, voice)),
    )


def _need(event: AlarmEvent, voice: Voice) -> str:
    is_now = event.key.kind is AlarmKind.IRRIGATE_NOW
    if event.key.subject.startswith("zone/"):
        return voice.say("irrigate now" if is_now else "plan an irrigation")
    return voice.say("irrigate now at {name}" if is_now else "plan an irrigation at {name}", name=event.key.name)


def _with_tension(need: str, event: AlarmEvent, voice: Voice) -> str:
    return need if event.tension_kpa is None else f"{need} ({voice.tension(event.tension_kpa)})"


def _reached(event: AlarmEvent, spot: Spot, voice: Voice) -> str:
    is_now = event.key.kind is AlarmKind.IRRIGATE_NOW
    if event.tension_kpa is None or event.limit_kpa is None:
        limit = voice.say("the limit to irrigate now" if is_now else "the limit to plan an irrigation")
        return voice.say("The soil water tension of {where} has reached {limit}.", where=spot.full, limit=limit)
    return voice.say(
        "The soil water tension of {where} has reached {tension}; the limit to irrigate now is {limit}."
        if is_now
        else "The soil water tension of {where} has reached {tension}; the limit to plan an irrigation is {limit}.",
        where=spot.full,
        tension=voice.tension(event.tension_kpa),
        limit=voice.tension(event.limit_kpa),
    )


def _sure(event: AlarmEvent, voice: Voice) -> str:
    count, of = event.evidence.get("tensiometers"), event.evidence.get("of")
    if not isinstance(count, int) or not isinstance(of, int):
        return voice.say("As sure as its readings, which passed all tests.")
    if of == 1:
        return voice.say("One tensiometer says so, and its readings passed all tests. It has no witness.")
    have_a_say = voice.say("{count} of {of} tensiometers have a say.", count=count, of=of)
    return f"{have_a_say} {_poll(event, voice)}"


def _poll(event: AlarmEvent, voice: Voice) -> str:
    """How their votes became one tension."""
    way = str(event.evidence.get("vote", Poll.MEDIAN.value))
    if way in _POLLS:
        return voice.say(_POLLS[way])
    enough, _, of = way.partition(" of ")
    return voice.say("{enough} of {of} that are as dry are enough.", enough=enough, of=of)


def _facts(event: AlarmEvent, voice: Voice) -> Iterator[Pair]:
    if event.tension_kpa is not None:
        yield voice.say("Tension"), voice.tension(event.tension_kpa, 1)
    if event.limit_kpa is not None:
        yield voice.say("Limit"), voice.tension(event.limit_kpa, 1)
    if (count := event.evidence.get("tensiometers")) is not None:
        of = str(event.evidence.get("of"))
        way = voice.word(str(event.evidence.get("vote", Poll.MEDIAN.value)))
        based = voice.say("{count} of {of} tensiometers ({way})", count=str(count), of=of, way=way)
        yield voice.say("Based on"), based
