"""Floods of alarms as alarms: what report and history show of them."""

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.people.state import Flood, TellingState


def flood_key(person: str) -> AlarmKey:
    """The alarm about a flood of alarms for a person."""
    return AlarmKey(AlarmKind.ALARM_FLOOD, f"person/{person}")


def flood_events(before: TellingState, after: TellingState, now_us: int) -> list[AlarmEvent]:
    """What began and what ended between two states."""
    events = []
    for person in sorted(before.persons.keys() | after.persons.keys()):
        was = before.persons[person].flood if person in before.persons else None
        now = after.persons[person].flood if person in after.persons else None
        if was is not None and (now is None or now.start_us != was.start_us):
            events.append(_event(person, was, Change.CLEARED, now_us))
        if now is not None and (was is None or now.start_us != was.start_us):
            events.append(_event(person, now, Change.RAISED, now.start_us))
    return events


def _event(person: str, flood: Flood, change: Change, time_us: int) -> AlarmEvent:
    return AlarmEvent(flood_key(person), change, time_us, flood.start_us, evidence={"alarms": flood.alarms})
