"""What is said of an alarm: one event in, one message out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.fault_wording import fault_said, own_said
from parchd.alarms.finding_wording import finding_said, since_us
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.irrigation_wording import irrigation_said
from parchd.alarms.kinds import IRRIGATION_KINDS, PRIORITIES, AlarmKind
from parchd.alarms.names import Names, Spot, spot_of
from parchd.alarms.responses import RESPONSES, TODAY_H, TWO_DAYS_H, WEEK_H
from parchd.alarms.said import Pair, Said
from parchd.clock import US_PER_S, to_datetime
from parchd.contract import AnswerLink, Chart, JsonValue, Notice, NoticeKind, Priority
from parchd.words import Text, Voice, text

__all__ = ["Names", "Story", "alarm_notice", "said_of"]

HOUR_US = 3600 * US_PER_S
_SOON: Mapping[int, Text] = MappingProxyType(
    {
        TODAY_H: text("Time for it: today."),
        TWO_DAYS_H: text("Time for it: two days."),
        WEEK_H: text("Time for it: a week."),
    }
)


@dataclass(frozen=True, slots=True)
class Story:
    """Why somebody is told of an alarm, beside that it was raised or cleared.

    Args:
        kind: ``repeated``, ``reminder`` or ``escalated``; ``None``: what happened to the alarm says it.
        now_us: when it is told; ``None``: when it happened.
        unanswered: names of those who were told before and did not answer.
        instead_of: name of the person for whom the reader stands in.
        despite: nobody else can be reached, so it is told though the reader is away or has quiet hours.
        times: so often it was raised meanwhile.
        comes_and_goes: it is told no more until it has been calm for a day.
    """

    kind: NoticeKind | None = None
    now_us: int | None = None
    unanswered: tuple[str, ...] = ()
    instead_of: str = ""
    despite: bool = False
    times: int = 1
    comes_and_goes: bool = False


PLAIN = Story()


def alarm_notice(
    event: AlarmEvent,
    names: Names,
    voice: Voice | None = None,
    *,
    priority: Priority | None = None,
    story: Story = PLAIN,
    charts: tuple[Chart, ...] = (),
    answers: tuple[AnswerLink, ...] = (),
) -> Notice:
    """Write the message about an event; its ``id`` is the event's and must be made the recipient's own.

    The raise and the clear of one episode share a thread.

    Args:
        voice: how the recipient is spoken to; ``None``: in English, kPa and the time of the site.
        priority: of this alarm; ``None``: the usual one of its kind.
        story: why it is told.
    """
    voice = voice or names.voice
    raised = event.change is Change.RAISED
    spot = spot_of(event, names, voice)
    said = said_of(event, spot, voice)
    kind = story.kind or (NoticeKind.RAISED if raised else NoticeKind.CLEARED)
    now_us = event.time_us if story.now_us is None else story.now_us
    do = said.do if not raised else f"{said.do} {voice.say(_SOON[RESPONSES[event.key.kind].within_h])}"
    return Notice(
        id=f"{event.episode}.{kind}",
        kind=kind,
        time_us=now_us,
        site=names.site,
        subject=f"{spot.place}: {said.need}{_still(kind, now_us - event.raised_us, voice)}",
        summary=f"{said.what} {said.means}" if raised else said.what,
        facts=((voice.say("Site"), names.site), *spot.facts, *said.facts),
        advice=said.then,
        priority=PRIORITIES[event.key.kind] if priority is None else priority,
        thread=str(event.evidence.get("thread") or event.episode),
        data=_data(event, names),
        lines=(
            *_note(story, now_us - event.raised_us, voice),
            (voice.say("What"), said.what),
            (voice.say("Since when"), _since(event, now_us, voice)),
            (voice.say("How sure"), said.sure),
            (voice.say("What it means"), said.means),
            (voice.say("What to do"), do),
        ),
        answers=answers,
        charts=charts,
        voice=voice,
    )


def said_of(event: AlarmEvent, spot: Spot, voice: Voice) -> Said:
    """Say what happened, for messages about one alarm or several."""
    kind = event.key.kind
    say: Callable[[AlarmEvent, Spot, Voice], Said] = fault_said
    if kind in FINDING_OF:
        say = finding_said
    elif kind in IRRIGATION_KINDS:
        say = irrigation_said
    elif kind is AlarmKind.OWN_RULE:
        say = own_said
    return say(event, spot, voice)


def _since(event: AlarmEvent, now_us: int, voice: Voice) -> str:
    if event.change is Change.CLEARED:
        return voice.say(
            "Raised {raised}, over {over}: it lasted {span}.",
            raised=voice.local(event.raised_us),
            over=voice.local(event.time_us),
            span=voice.duration((event.time_us - event.raised_us) / HOUR_US),
        )
    begun_us = since_us(event)
    if now_us - begun_us < HOUR_US:
        return voice.local(begun_us)
    return voice.say(
        "{time} ({span} ago)", time=voice.local(begun_us), span=voice.duration((now_us - begun_us) / HOUR_US)
    )


def _still(kind: NoticeKind, stood_us: int, voice: Voice) -> str:
    """What the end of the subject says of one that is told again."""
    span = voice.duration(stood_us / HOUR_US)
    match kind:
        case NoticeKind.REPEATED:
            return voice.say(", still so after {span}", span=span)
        case NoticeKind.REMINDER | NoticeKind.ESCALATED:
            return voice.say(", no answer for {span}", span=span)
        case _:
            return ""


def _note(story: Story, stood_us: int, voice: Voice) -> tuple[Pair, ...]:
    """Why it comes to this reader, now."""
    parts = [_why(story, voice.duration(stood_us / HOUR_US), voice)]
    if story.instead_of:
        parts.append(voice.say("You are told in place of {name}, who is away.", name=story.instead_of))
    if story.despite:
        parts.append(voice.say("Nobody else can be reached, so you are told although it is not your time."))
    if story.times > 1:
        parts.append(voice.say("It has come {n} times since you were last told.", n=story.times))
    if story.comes_and_goes:
        parts.append(voice.say("It comes and goes: you hear no more of it until it has been calm for a day."))
    said = " ".join(part for part in parts if part)
    return ((voice.say("Please note"), said),) if said else ()


def _why(story: Story, span: str, voice: Voice) -> str:
    match story.kind:
        case NoticeKind.REPEATED:
            return voice.say("It is still so, therefore you are told again.")
        case NoticeKind.REMINDER:
            return voice.say("It was raised {span} ago and waits for your answer: acknowledge it.", span=span)
        case NoticeKind.ESCALATED if story.unanswered:
            who = voice.listing(story.unanswered)
            return voice.say("It was raised {span} ago; {who} did not answer. Now it is your turn.", span=span, who=who)
        case NoticeKind.ESCALATED:
            return voice.say("It was raised {span} ago and nobody has answered. Now it is your turn.", span=span)
        case _:
            return ""


def _data(event: AlarmEvent, names: Names) -> dict[str, JsonValue]:
    data: dict[str, JsonValue] = {
        "type": f"alarm.{event.change}",
        "alarm": event.key.kind.value,
        "subject": event.key.subject,
        "episode": event.episode,
        "raised_at": to_datetime(event.raised_us).isoformat(),
        "at": to_datetime(event.time_us).isoformat(),
        "tension_kpa": event.tension_kpa,
        "limit_kpa": event.limit_kpa,
        "evidence": dict(event.evidence),
    }
    place = names.places.get(event.key.name)
    if place is not None and event.key.subject.startswith("tensiometer/"):
        data |= {"zone": place.zone, "station": place.station, "depth_m": place.depth_m}
    return data
