"""Do people make sense: names, ways, deputies, and whether somebody is told of everything that needs a response."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel, ValidationError, create_model
from pydantic.fields import FieldInfo

from parchd.alarms.kinds import AlarmKind
from parchd.config.alarm_kinds import compile_kinds
from parchd.config.draft import Draft
from parchd.config.loaded import NotifierEntry
from parchd.config.people import PersonTable
from parchd.config.people_compile import has_own_recipients, lowest_of
from parchd.config.plausible import DIGEST_FROM
from parchd.config.schema import among
from parchd.config.toml_lines import Loc
from parchd.contract import Priority
from parchd.people.roles import ROLES, Role


def check_people(draft: Draft, notifiers: Mapping[str, NotifierEntry]) -> None:
    """Check all people, who comes next, and who is told of nothing.

    Args:
        notifiers: those whose options are right.
    """
    people = draft.settings.people
    for name, person in people.items():
        _check_ways(draft, name, person, notifiers)
        _check_names(draft, ("people", name, "zones"), person.zones, "zones")
        _check_times(draft, name, person)
        if person.deputy is not None:
            _check_names(draft, ("people", name, "deputy"), (person.deputy,), "people")
    _check_deputies(draft)
    _check_escalation(draft)
    _check_addressees(draft, notifiers)
    if people and all(loc[0] not in ("people", "notifiers", "zones", "alarms") for loc in draft.broken):
        _check_coverage(draft, notifiers)


def _check_ways(draft: Draft, name: str, person: PersonTable, notifiers: Mapping[str, NotifierEntry]) -> None:
    known = draft.names("notifiers")
    for number, way in enumerate(person.reach):
        loc: Loc = ("people", name, "reach", number)
        if way.notifier not in known:
            expected, hint = "the name of a notifier, as in [notifiers.NAME]", among(way.notifier, known)
            draft.error((*loc, "notifier"), found=f'"{way.notifier}"', expected=expected, hint=hint)
        elif way.notifier in notifiers:
            _check_address(draft, loc, way.to, notifiers[way.notifier])


def _check_address(draft: Draft, loc: Loc, to: str | None, entry: NotifierEntry) -> None:
    """A person's address must be one that the notifier takes: its kind has a key ``to`` for addresses."""
    info = type(entry.options).model_fields.get("to")
    if info is None:
        if to is not None:
            hint = f"a notifier of kind {entry.kind} knows its receiver itself"
            draft.error((*loc, "to"), found=f'"{to}"', expected="a way without to", hint=hint)
    elif to is None:
        if not getattr(entry.options, "to", ()):
            expected = f"to: an address of the person, for notifier {entry.name} has none of its own"
            draft.error(loc, found="nothing", expected=expected)
    else:
        try:
            _only(info).model_validate({"to": [to]})
        except ValidationError as error:
            details = error.errors()[0]
            expected = str(details.get("ctx", {}).get("error") or details["msg"])
            draft.error((*loc, "to"), found=f'"{to}"', expected=expected)


def _only(info: FieldInfo) -> type[BaseModel]:
    """A model with this one key."""
    fields: dict[str, Any] = {"to": (info.annotation, info)}
    return create_model("Address", **fields)


def _check_names(draft: Draft, loc: Loc, names: tuple[str, ...], group: str) -> None:
    known = draft.names(group)
    for name in names:
        if name not in known and not draft.all_broken(group):
            thing = "person" if group == "people" else group.removesuffix("s")
            expected = f"the name of a {thing}, as in [{group}.NAME]"
            draft.error(loc, found=f'"{name}"', expected=expected, hint=among(name, known))


def _check_times(draft: Draft, name: str, person: PersonTable) -> None:
    loc: Loc = ("people", name)
    if person.quiet_hours is not None and person.quiet_hours[0] == person.quiet_hours[1]:
        found = f"{person.quiet_hours[0]:%H:%M} twice"
        draft.error((*loc, "quiet_hours"), found=found, expected="two different times")
    if person.digest_at is not None and person.digest_at < DIGEST_FROM:
        hint = "clocks are changed before that: such a time is missing on one day and comes twice on another"
        draft.error((*loc, "digest_at"), found=f'"{person.digest_at:%H:%M}"', expected='"04:00" or later', hint=hint)
    wants_digest = "digest" in person.model_fields_set and person.digest != "never"
    if wants_digest and person.digest_at is None and draft.settings.schedule.digest_at is None:
        expected = 'digest_at: a time of day such as "06:30"'
        draft.error(loc, found="nothing", expected=expected, hint='schedule.digest_at is "never"')
    for number, span in enumerate(person.away):
        if span.last < span.first:
            expected = f"{span.first} or later"
            draft.error((*loc, "away", number, "last"), found=f"{span.last}", expected=expected)


def _check_deputies(draft: Draft) -> None:
    """Whoever stands in for somebody must not be stood in for by them."""
    deputies = {name: person.deputy for name, person in draft.settings.people.items()}
    seen: set[str] = set()
    for name in deputies:
        chain = list(_chain(deputies, name))
        if len(chain) > 1 and chain[-1] == name and seen.isdisjoint(chain):
            seen.update(chain)
            draft.error(
                ("people", name, "deputy"),
                found=" -> ".join(chain),
                expected="a deputy who is somebody else in the end",
                hint="when all of them are away nobody is told",
            )


def _chain(deputies: Mapping[str, str | None], name: str) -> Iterator[str]:
    """The deputies of a person one after the other, until one comes again."""
    seen: set[str] = set()
    following: str | None = name
    while following is not None:
        yield following
        if following in seen:
            return
        seen.add(following)
        following = deputies.get(following)


def _check_escalation(draft: Draft) -> None:
    table = draft.settings.escalation
    if table is None:
        return
    _check_names(draft, ("escalation", "people"), table.people, "people")
    if len(set(table.people)) < len(table.people):
        twice = next(name for name in table.people if table.people.count(name) > 1)
        draft.error(("escalation", "people"), found=f'"{twice}" twice', expected="each person once")


def _check_addressees(draft: Draft, notifiers: Mapping[str, NotifierEntry]) -> None:
    """A notifier with a key for addresses needs one, its own or a person's."""
    reached = {way.notifier for person in draft.settings.people.values() for way in person.reach}
    if reached - draft.names("notifiers") or any(loc[0] == "people" for loc in draft.broken):
        return  # what is wrong with a person is told already, and may be all that is wrong
    for name, entry in notifiers.items():
        info = type(entry.options).model_fields.get("to")
        if info is not None and not getattr(entry.options, "to", ()) and name not in reached:
            expected = f"to: {info.description or 'whom to tell'}, or a person in [people.NAME] who is reached by it"
            draft.error(("notifiers", name, "to"), found="nothing", expected=expected)


def _check_coverage(draft: Draft, notifiers: Mapping[str, NotifierEntry]) -> None:
    """Somebody must be told of everything that needs a response soon, and should read of the rest."""
    people = draft.settings.people
    for priority in (Priority.HIGH, Priority.MEDIUM):
        gaps = [gap for role in Role if (gap := _gap(draft, notifiers, role, priority))]
        if gaps:
            draft.error(
                ("people",),
                found=f"nobody is told of alarms of {priority.word} priority about {'; '.join(gaps)}",
                expected="somebody with these roles and zones, and with such a lowest_priority",
                hint="without roles and zones a person is told of everything",
            )
    low = any(person.digest != "never" or lowest_of(person) is Priority.LOW for person in people.values())
    if not low and not _as_it_comes(draft, notifiers, Priority.LOW):
        expected = "one digest at least"
        draft.warn(("people",), found="nobody hears of alarms of low priority", expected=expected)


def _gap(draft: Draft, notifiers: Mapping[str, NotifierEntry], role: Role, priority: Priority) -> str:
    """What nobody is told of, in words; empty: there is no gap."""
    kinds = compile_kinds(draft.settings.alarms)
    meant = (kind for kind in AlarmKind if ROLES[kind] is role and kind is not AlarmKind.ALARM_FLOOD)
    if not any(kinds[kind].priority is priority and not kinds[kind].out_of_service for kind in meant):
        return ""
    if _as_it_comes(draft, notifiers, priority):
        return ""
    told = [one for one in draft.settings.people.values() if role in one.roles and lowest_of(one) <= priority]
    if any(not one.zones for one in told):
        return ""
    covered = {zone for one in told for zone in one.zones}
    missing = sorted(set(draft.settings.zones) - covered)
    if not told or role is Role.SYSTEM:
        return "" if told else role.value
    return f"{role.value} in {', '.join(missing)}" if missing else ""


def _as_it_comes(draft: Draft, notifiers: Mapping[str, NotifierEntry], priority: Priority) -> bool:
    """Whether recipients of a notifier that are no persons are told."""
    return any(
        entry.policy.lowest_priority <= priority and has_own_recipients(entry, draft.settings.people)
        for entry in notifiers.values()
    )
