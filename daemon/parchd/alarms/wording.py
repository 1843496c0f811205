"""What is said of an alarm: one event in, one message out."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from parchd.alarms.advice import FAULT_WORDS
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.finding_wording import finding_facts, finding_words, since_us
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.ground_words import GROUND_WORDS
from parchd.alarms.kinds import IRRIGATION_KINDS, PRIORITIES, AlarmKind
from parchd.alarms.system_words import SYSTEM_WORDS
from parchd.clock import to_datetime
from parchd.contract import JsonValue, Notice, NoticeKind, Place, Priority

THINGS = {"source": "Source", "sink": "Sink", "notifier": "Notifier", "person": "Person", "rule": "Rule"}
"""What a subject is called that is neither a zone nor a tensiometer."""
OF_THE_DAEMON = {"daemon/disk": "disk of the journal", "daemon/clock": "time of day"}


@dataclass(frozen=True, slots=True)
class Names:
    """What people call things.

    Args:
        site: name of the site.
        time_zone: its IANA time zone; all times in messages are local.
        zones: title of each zone by its key.
        places: place of each tensiometer by its key.
    """

    site: str
    time_zone: str
    zones: Mapping[str, str]
    places: Mapping[str, Place]

    def zone_title(self, zone: str) -> str:
        return self.zones.get(zone) or zone

    def local(self, time_us: int) -> str:
        """A time as people of the site read it, to the minute.

        >>> Names("", "Europe/Berlin", {}, {}).local(1_780_000_000_000_000)
        'Thu 28 May 2026, 22:26'
        """
        return to_datetime(time_us).astimezone(ZoneInfo(self.time_zone)).strftime("%a %d %b %Y, %H:%M")


def alarm_notice(event: AlarmEvent, names: Names, priority: Priority | None = None) -> Notice:
    """Write the message about an event; its ``id`` is the event's and must be made the recipient's own.

    The raise and the clear of one episode share a thread.

    Args:
        priority: of this alarm; ``None``: the usual one of its kind.
    """
    raised = event.change is Change.RAISED
    title, facts = _where(event, names)
    if event.key.kind in FINDING_OF:
        subject, summary, advice = finding_words(event, title, names.local)
        facts += finding_facts(event, names.local)
    else:
        subject, summary, advice = _words(event, title)
        facts += _numbers(event, names)
    facts.append(("Since", names.local(since_us(event))) if raised else ("Raised", names.local(event.raised_us)))
    if not raised:
        facts.append(("Cleared", names.local(event.time_us)))
    return Notice(
        id=f"{event.episode}.{event.change}",
        kind=NoticeKind.RAISED if raised else NoticeKind.CLEARED,
        time_us=event.time_us,
        site=names.site,
        subject=subject,
        summary=summary,
        facts=(("Site", names.site), *facts),
        advice=advice,
        priority=PRIORITIES[event.key.kind] if priority is None else priority,
        thread=str(event.evidence.get("thread") or event.episode),
        data=_data(event, names),
    )


def _where(event: AlarmEvent, names: Names) -> tuple[str, list[tuple[str, str]]]:
    if event.key.subject.startswith("zone/"):
        title = names.zone_title(event.key.name)
        return title, [("Zone", title)]
    if event.key.subject in OF_THE_DAEMON:
        return OF_THE_DAEMON[event.key.subject], []
    if (thing := THINGS.get(event.key.subject.partition("/")[0])) is not None:
        return event.key.name, [(thing, event.key.name)]
    place = names.places.get(event.key.name)
    if place is None:
        return event.key.name, [("Tensiometer", event.key.name)]
    zone = names.zone_title(place.zone)
    return f"{event.key.name} ({zone}, {place.depth_m * 100:.0f} cm)", [
        ("Tensiometer", event.key.name),
        ("Zone", zone),
        ("Station", place.station),
        ("Depth", f"{place.depth_m * 100:.0f} cm"),
    ]


def _words(event: AlarmEvent, title: str) -> tuple[str, str, tuple[str, ...]]:
    kind = event.key.kind
    if kind in IRRIGATION_KINDS:
        return _irrigation_words(event, title)
    if kind is AlarmKind.OWN_RULE:
        return _own_words(event, title)
    if kind in GROUND_WORDS or kind in SYSTEM_WORDS:
        return _plain_words(event, title)
    return _fault_words(event, title)


def _irrigation_words(event: AlarmEvent, title: str) -> tuple[str, str, tuple[str, ...]]:
    need = "irrigate now" if event.key.kind is AlarmKind.IRRIGATE_NOW else "plan an irrigation"
    tension = f"{event.tension_kpa:z.0f} kPa"
    if event.change is Change.CLEARED:
        return (
            f"{title}: no more need to {need} ({tension})",
            f"Soil water tension in {title} is down to {tension}; the limit is {event.limit_kpa:.0f} kPa.",
            (),
        )
    act = "Irrigate" if event.key.kind is AlarmKind.IRRIGATE_NOW else "Plan the next irrigation of"
    return (
        f"{title}: {need} ({tension})",
        f"Soil water tension in {title} has reached {tension}; the limit to {need} is {event.limit_kpa:.0f} kPa.",
        (
            f"{act} {title}.",
            "Look at the ground first: parchd advises, you decide. Keep to local rules on water and valves.",
        ),
    )


def _fault_words(event: AlarmEvent, title: str) -> tuple[str, str, tuple[str, ...]]:
    words = FAULT_WORDS[event.key.kind]
    cause = str(event.evidence.get("cause") or words.subject)
    if event.change is Change.CLEARED:
        return f"{title}: {words.cleared}", f"Tensiometer {title}: {words.cleared}.", ()
    trust = "Its readings neither raise nor clear an irrigation alarm until it is right again."
    return f"{title}: {cause}", f"Tensiometer {title}: {words.summary} {trust}", words.advice


def _plain_words(event: AlarmEvent, title: str) -> tuple[str, str, tuple[str, ...]]:
    words = GROUND_WORDS.get(event.key.kind) or SYSTEM_WORDS[event.key.kind]
    if event.change is Change.CLEARED:
        return f"{title}: {words.cleared}", f"{title}: {words.cleared}.", ()
    return f"{title}: {words.subject}", f"{title}: {words.summary}", words.advice


def _own_words(event: AlarmEvent, title: str) -> tuple[str, str, tuple[str, ...]]:
    """What the rule says itself; it goes with the event, for the rule may be another by the time it is read."""
    say = str(event.evidence.get("say") or "its conditions hold")
    if event.change is Change.CLEARED:
        return f"{title}: no more: {say}", f"The conditions of your rule {title} hold no longer.", ()
    respond = str(event.evidence.get("respond") or f"It is your own rule: [rules.{title}] in the configuration.")
    return f"{title}: {say}", f"Your rule {title} holds: {say}", (respond,)


def _numbers(event: AlarmEvent, names: Names) -> list[tuple[str, str]]:
    facts = []
    if event.tension_kpa is not None:
        facts.append(("Tension", f"{event.tension_kpa:z.1f} kPa"))
    if event.limit_kpa is not None:
        facts.append(("Limit", f"{event.limit_kpa:.1f} kPa"))
    if (count := event.evidence.get("tensiometers")) is not None:
        vote = event.evidence.get("vote", "median")
        facts.append(("Based on", f"{count} of {event.evidence.get('of')} tensiometers ({vote})"))
    if (channel := event.evidence.get("channel")) is not None:
        facts.append(("Channel", str(channel)))
    if (value := event.evidence.get("value")) is not None:
        facts.append(("Last sample", f"{value} {event.evidence.get('unit')}"))
    if "last_heard_us" in event.evidence:
        heard_us = event.evidence["last_heard_us"]
        facts.append(("Last heard", names.local(heard_us) if isinstance(heard_us, int) else "never"))
    return facts + _reasons(event)


def _reasons(event: AlarmEvent) -> list[tuple[str, str]]:
    """What a server said, what is left of a disk, which conditions of a rule hold."""
    facts = []
    if trouble := event.evidence.get("trouble"):
        facts.append(("What it said", str(trouble)))
    if isinstance(free_mb := event.evidence.get("free_mb"), int | float):
        facts.append(("Free", f"{free_mb:.0f} MB"))
    held = event.evidence.get("held")
    return facts + [("Holds", str(words)) for words in (held if isinstance(held, list) else ())]


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
