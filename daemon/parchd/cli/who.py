"""Who would be told of what now."""

from collections.abc import Iterable, Iterator, Mapping
from zoneinfo import ZoneInfo

from parchd.app.setup import people
from parchd.clock import SystemClock, to_datetime
from parchd.config import Loaded
from parchd.config.layout import table, wrapped
from parchd.contract import Priority, Services
from parchd.people.person import Escalation, Person
from parchd.people.presence import is_away, is_quiet
from parchd.people.roles import Role

_HEADER = ("name", "roles", "high", "medium", "low", "digest")
_NOTE = (
    "at once: within a minute; soon: within ten minutes, and what comes after it is gathered; each: every change in a "
    "message of its own; a time: quiet hours hold it until then; a name: stands in"
)
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def recipients_of(loaded: Loaded) -> dict[str, tuple[str, ...]]:
    """Whom each notifier reaches by itself; one that cannot be made reaches nobody."""
    clock, found = SystemClock(), {}
    for name, entry in loaded.notifiers.items():
        try:
            services = Services(name, loaded.pipeline.site.name, clock)
            found[name] = entry.factory.build(entry.options, services).recipients
        except Exception:  # whatever a stranger's adapter raises: the daemon tells of it when it starts
            found[name] = ()
    return found


def people_text(loaded: Loaded, recipients: Mapping[str, tuple[str, ...]], now_us: int) -> str:
    """Write a table of people and priorities, as things are now; empty: nobody is told of anything."""
    persons = {person.key: person for person in people(loaded, recipients)}
    if not persons:
        return ""
    rows = [_row(person, persons, now_us) for person in persons.values()]
    return "\n".join(
        [
            f"People, {to_datetime(now_us).astimezone(ZoneInfo(loaded.pipeline.site.time_zone)):%Y-%m-%d %H:%M}",
            *table([_HEADER, *rows], left=set(range(6))),
            "",
            *wrapped(_NOTE, "  ", "  "),
            *(line for person in persons.values() for line in _more(person, persons, now_us)),
            *_next(loaded.escalation, persons),
        ]
    )


def _row(person: Person, persons: Mapping[str, Person], now_us: int) -> tuple[str, ...]:
    roles = "all" if len(person.roles) == len(Role) else ", ".join(role for role in Role if role in person.roles)
    if not roles:
        return (person.name, "-", "-", "-", "-", _digest(person))
    told = (_told(person, persons, priority, now_us) for priority in reversed(Priority))
    return (person.name, roles, *told, _digest(person))


def _told(person: Person, persons: Mapping[str, Person], priority: Priority, now_us: int) -> str:
    if priority < person.lowest_priority:
        return "-" if person.digest is None or not person.gathers else "digest"
    if is_away(person, now_us):
        deputy = persons.get(person.deputy or "")
        return "away" if deputy is None else deputy.name
    if person.quiet is not None and is_quiet(person, priority, now_us):
        end_us = person.quiet.end_us(now_us)
        assert end_us is not None, "it is quiet"
        return f"{to_datetime(end_us).astimezone(person.quiet.zone):%H:%M}"
    if not person.gathers:
        return "each"
    return "at once" if priority is Priority.HIGH else "soon"


def _digest(person: Person) -> str:
    if person.digest is None:
        return "never"
    at = f"{person.digest.at:%H:%M}"
    return at if person.digest.weekday is None else f"{_DAYS[person.digest.weekday]} {at}"


def _more(person: Person, persons: Mapping[str, Person], now_us: int) -> Iterator[str]:
    """The ways to somebody with a table of their own, and when they are away."""
    if not person.is_named:
        return
    ways = [f"{way.notifier} to {way.to}{_only(way.lowest_priority)}" for way in person.reach]
    zones = [f"zones {', '.join(sorted(person.zones))}"] if person.zones else []
    yield from wrapped(f"{person.name}: {'; '.join([*zones, *ways])}", "  ", "      ")
    today = to_datetime(now_us).astimezone(ZoneInfo(person.voice.time_zone)).date()
    spans = [f"{span.first} to {span.last}" for span in person.away if span.last >= today]
    if spans:
        yield from wrapped(f"away {', '.join(spans)}; {_stands_in(person, persons)}", "      ", "      ")


def _only(lowest: Priority) -> str:
    return "" if lowest is Priority.LOW else f" from {lowest.word} priority up"


def _stands_in(person: Person, persons: Mapping[str, Person]) -> str:
    deputy = persons.get(person.deputy or "")
    return "nobody stands in" if deputy is None else f"{deputy.name} stands in"


def _next(escalation: Escalation | None, persons: Mapping[str, Person]) -> Iterable[str]:
    if escalation is None:
        return []
    names = ", then ".join(persons[key].name for key in escalation.people if key in persons)
    also = "".join(f", {kind}" for kind in sorted(escalation.also))
    what = f"{escalation.lowest_priority.word} priority{also}"
    minutes = escalation.after_us // 60_000_000
    return wrapped(f"not acknowledged within {minutes} min ({what}): {names}", "  ", "      ")
