"""What people call things, and where an alarm is."""

from collections.abc import Mapping
from dataclasses import dataclass

from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.contract import Place
from parchd.words import Voice, text

THINGS = {
    "source": text("source {name}"),
    "sink": text("sink {name}"),
    "notifier": text("notifier {name}"),
    "person": text("person {name}"),
    "rule": text("rule {name}"),
}
"""What a subject is called that is neither a zone nor a tensiometer."""
LABELS = {
    "source": text("Source"),
    "sink": text("Sink"),
    "notifier": text("Notifier"),
    "person": text("Person"),
    "rule": text("Rule"),
}
OF_THE_DAEMON = {"daemon/disk": text("disk of the journal"), "daemon/clock": text("time of day")}
MOST_ZONES = 2
"""A message that concerns more zones begins with the name of the site."""


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

    @property
    def voice(self) -> Voice:
        """How people of the site are spoken to who have no settings of their own."""
        return Voice(time_zone=self.time_zone)

    def local(self, time_us: int) -> str:
        """A time as people of the site read it, to the minute.

        >>> Names("", "Europe/Berlin", {}, {}).local(1_780_000_000_000_000)
        'Thu 28 May 2026, 22:26'
        """
        return self.voice.local(time_us)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where an alarm is and what it is about, in words.

    Args:
        place: stands first in the subject: the zone, or the site where it is about none or several.
        name: the tensiometer, zone, source or rule, as commands know it.
        full: the same within a sentence, with its place.
        facts: labels and values of it.
    """

    place: str
    name: str
    full: str
    facts: tuple[tuple[str, str], ...]

    @property
    def opening(self) -> str:
        """The same at the beginning of a sentence; names that people gave stay as they are."""
        return self.full if self.full == self.name else self.full[:1].upper() + self.full[1:]


def spot_of(event: AlarmEvent, names: Names, voice: Voice) -> Spot:
    """Find the words for where an alarm is."""
    key = event.key
    thing = key.subject.partition("/")[0]
    if thing == "zone":
        title = names.zone_title(key.name)
        return Spot(title, title, title, ((voice.say("Zone"), title),))
    if key.subject in OF_THE_DAEMON:
        return Spot(names.site, key.name, voice.say(OF_THE_DAEMON[key.subject]), ())
    if thing in THINGS:
        place = _of_zones(event, names)
        return Spot(place, key.name, thing_name(key, voice), ((voice.say(LABELS[thing]), key.name),))
    return _tensiometer(key.name, names, voice)


def thing_name(key: AlarmKey, voice: Voice) -> str:
    """What a subject is called within a sentence or a table.

    >>> from parchd.alarms.rules import AlarmKind
    >>> thing_name(AlarmKey(AlarmKind.SILENT_SOURCE, "source/bus1"), Voice())
    'source bus1'
    """
    if key.subject in OF_THE_DAEMON:
        return voice.say(OF_THE_DAEMON[key.subject])
    thing = key.subject.partition("/")[0]
    return voice.say(THINGS[thing], name=key.name) if thing in THINGS else key.name


def _tensiometer(name: str, names: Names, voice: Voice) -> Spot:
    place = names.places.get(name)
    if place is None:
        full = voice.say("tensiometer {name}", name=name)
        return Spot(names.site, name, full, ((voice.say("Tensiometer"), name),))
    zone, depth = names.zone_title(place.zone), f"{place.depth_m * 100:.0f} cm"
    full = voice.say("tensiometer {name} ({station}, {depth})", name=name, station=place.station, depth=depth)
    facts = (
        (voice.say("Tensiometer"), name),
        (voice.say("Zone"), zone),
        (voice.say("Station"), place.station),
        (voice.say("Depth"), depth),
    )
    return Spot(zone, name, full, facts)


def _of_zones(event: AlarmEvent, names: Names) -> str:
    zones = event.evidence.get("zones")
    titles = [names.zone_title(str(zone)) for zone in zones] if isinstance(zones, list) else []
    return ", ".join(titles) if 0 < len(titles) <= MOST_ZONES else names.site


def listed(event: AlarmEvent, key: str) -> list[str]:
    """Names that an event carries."""
    names = event.evidence.get(key)
    return [str(name) for name in names] if isinstance(names, list) else []
