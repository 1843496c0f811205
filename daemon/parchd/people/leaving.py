"""From what waits to messages: what may leave now, and what goes together."""

from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from parchd.clock import US_PER_S
from parchd.contract import NoticeKind, Priority
from parchd.people.counting import FLOOD_BEGINS, FLOOD_ENDS, FLOOD_US, recent
from parchd.people.days import comes_today, digest_due, first_day, local_day, next_digest_us
from parchd.people.person import Person
from parchd.people.presence import is_quiet
from parchd.people.state import Flood, Item, Lane, PersonState
from parchd.people.work import Work

DAY_US = 86_400 * US_PER_S
SETTLE_US = 60 * US_PER_S
"""What is urgent waits so long for others of the same moment, so that ten at once are one message."""
SETTLE_CALM_US = 600 * US_PER_S
"""What is not waits for a usual interval between samples: what one cause does to many tensiometers shows within it."""
_GATHERED = (Lane.CALM, Lane.ALONG)
_IN_DIGEST = (Lane.CALM, Lane.ALONG, Lane.DIGEST)


def leave(work: Work, person: Person, *, digests: bool) -> None:
    """Let go what may leave now for somebody who is here."""
    _watch_flood(work, person)
    _urgent(work, person)
    _ends(work, person)
    if digests:
        _digest(work, person)
    _calm(work, person)


def leave_each(work: Work, person: Person) -> None:
    """Let go all that is not quiet, in messages of its own."""
    for item in work.of(person).items:
        if item.lane is Lane.EACH and (item.despite or not is_quiet(person, item.priority, work.now_us)):
            work.tell(person, item.kind, [item])


def leave_despite(work: Work, person: Person) -> None:
    """Let go what somebody is told though they are away: it would reach nobody else."""
    items = [item for item in work.of(person).items if item.despite]
    if _has_waited(work, items, SETTLE_US):
        work.tell(person, items[0].kind if len(items) == 1 else NoticeKind.GROUP, items)


def skip_digest(work: Work, person: Person) -> None:
    """Let the digests of somebody who is away pass."""
    known = _with_first_day(work, person)
    if (day := digest_due(person.digest, _zone(person), known.digest_day, work.now_us)) is not None:
        work.persons[person.key] = replace(known, digest_day=day)


def _watch_flood(work: Work, person: Person) -> None:
    known = work.of(person)
    if not known.recent_us and known.flood is None:
        return
    recent_us = recent(known.recent_us, FLOOD_US, work.now_us)
    flood = known.flood
    if flood is None and len(recent_us) > FLOOD_BEGINS:
        flood = Flood(work.now_us, alarms=len(recent_us))
    elif flood is not None and len(recent_us) < FLOOD_ENDS:
        flood = None
    if (recent_us, flood) != (known.recent_us, known.flood):
        work.persons[person.key] = replace(known, recent_us=recent_us, flood=flood)


def _urgent(work: Work, person: Person) -> None:
    items = [
        item
        for item in _of(work, person, (Lane.NOW,))
        if item.despite or not is_quiet(person, item.priority, work.now_us)
    ]
    if not _has_waited(work, items, SETTLE_US):
        return
    flood = work.of(person).flood
    if flood is None:
        work.tell(person, items[0].kind if len(items) == 1 else NoticeKind.GROUP, items)
    elif not _has_just_been_told(work, flood):
        _tell_flood(work, person, [*items, *_of(work, person, (Lane.CALM,))])


def _ends(work: Work, person: Person) -> None:
    items = _of(work, person, (Lane.OWN,))
    if is_quiet(person, Priority.LOW, work.now_us):
        for item in items:
            work.put(person, replace(item, lane=Lane.ALONG))
    elif _has_waited(work, items, SETTLE_US):
        for item in items:
            work.tell(person, item.kind, [item])


def _digest(work: Work, person: Person) -> None:
    if person.digest is None:
        return
    known = _with_first_day(work, person)
    day = digest_due(person.digest, _zone(person), known.digest_day, work.now_us)
    if day is None or is_quiet(person, Priority.LOW, work.now_us):
        return
    items = _of(work, person, _IN_DIGEST)
    work.tell(person, NoticeKind.DIGEST, items, day=day)
    work.persons[person.key] = replace(work.of(person), digest_day=day)
    _count(work, person, calms=any(item.lane is Lane.CALM for item in items))


def _calm(work: Work, person: Person) -> None:
    items = _of(work, person, (Lane.CALM,))
    flood = work.of(person).flood
    first_of_flood = flood is not None and flood.told_us is None
    if not _has_waited(work, items, SETTLE_US if first_of_flood else SETTLE_CALM_US):
        return
    if first_of_flood and not is_quiet(person, max(item.priority for item in items), work.now_us):
        _tell_flood(work, person, items)
    elif _may_tell(work, person, items):
        kind = items[0].kind if len(items) == 1 else NoticeKind.GROUP
        work.tell(person, kind, items if len(items) == 1 else _of(work, person, _GATHERED))
        _count(work, person, calms=True)


def _tell_flood(work: Work, person: Person, items: Sequence[Item]) -> None:
    known = work.of(person)
    assert known.flood is not None
    work.tell(person, NoticeKind.FLOOD, items, alarms=known.flood.alarms)
    work.persons[person.key] = replace(work.of(person), flood=replace(known.flood, told_us=work.now_us))
    _count(work, person, calms=True)


def _may_tell(work: Work, person: Person, items: Sequence[Item]) -> bool:
    """Whether what waits in the calm lane may leave. If not, it is gathered, and a digest that comes soon takes it.

    What asks for a response today needs no message that the day has left.
    """
    known = work.of(person)
    calm = known.calm_since_us is not None and 0 <= work.now_us - known.calm_since_us < person.calm_us
    if calm or is_quiet(person, max(item.priority for item in items), work.now_us):
        work.persons[person.key] = replace(known, gathers=True)
        return False
    pressing = any(work.setup.is_pressing(item.key) for item in items)
    if (known.gathers or not pressing) and _digest_comes_within(work, person, person.soon_us):
        work.persons[person.key] = replace(known, gathers=True)
        return False
    if pressing:
        return True
    if _is_day_spent(work, person):
        work.persons[person.key] = replace(known, gathers=True, is_spent=True)
        return False
    return not (known.is_spent and _digest_comes_within(work, person, DAY_US))


def _is_day_spent(work: Work, person: Person) -> bool:
    """Whether the day has no message left that is not urgent; one is kept for a digest that is still to come."""
    known, zone = work.of(person), _zone(person)
    sent = known.count if known.day == local_day(zone, work.now_us).isoformat() else 0
    return sent + comes_today(person.digest, zone, known.digest_day, work.now_us) >= person.most_a_day


def _digest_comes_within(work: Work, person: Person, span_us: int) -> bool:
    if person.digest is None:
        return False
    next_us = next_digest_us(person.digest, _zone(person), work.of(person).digest_day, work.now_us)
    return next_us - work.now_us <= span_us


def _count(work: Work, person: Person, *, calms: bool) -> None:
    """Note a message that was not urgent."""
    known = work.of(person)
    today = local_day(_zone(person), work.now_us).isoformat()
    count = known.count + 1 if known.day == today else 1
    work.persons[person.key] = replace(known, day=today, count=count)
    if calms:
        work.persons[person.key] = replace(work.of(person), calm_since_us=work.now_us, gathers=False, is_spent=False)


def _with_first_day(work: Work, person: Person) -> PersonState:
    """What is known of a person, who gets no digest of days before they were known, or that the clock took back."""
    known = work.of(person)
    if person.digest is None:
        return known
    today = local_day(_zone(person), work.now_us).isoformat()
    last = known.digest_day
    if last is None or last > today:
        day = today if last is not None else first_day(person.digest, _zone(person), work.now_us)
        known = work.persons[person.key] = replace(known, digest_day=day)
    return known


def _of(work: Work, person: Person, lanes: Sequence[Lane]) -> list[Item]:
    return [item for item in work.of(person).items if item.lane in lanes]


def _has_waited(work: Work, items: Sequence[Item], span_us: int) -> bool:
    return any(not 0 <= work.now_us - item.since_us < span_us for item in items)


def _has_just_been_told(work: Work, flood: Flood) -> bool:
    return flood.told_us is not None and 0 <= work.now_us - flood.told_us < FLOOD_US


def _zone(person: Person) -> ZoneInfo:
    return ZoneInfo(person.voice.time_zone)
