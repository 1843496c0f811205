"""``[rules.NAME]``, fast drying and ground that stays wet, compiled into rules."""

from collections.abc import Iterator, Mapping

from parchd.alarms.delays import Delays
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import ALARM_OF
from parchd.alarms.kinds import AlarmKind, KindSettings
from parchd.alarms.rules import DecisionWindow
from parchd.alarms.terms import Level, Presence, Quantity, Rule, Term
from parchd.config.alarm_tables import RuleTable, TermTable
from parchd.config.draft import Draft
from parchd.config.limits import MORNING, fresh_s, window_of
from parchd.config.term_checks import QUANTITIES, subject_of, usual_deadband
from parchd.diagnosis.kinds import FindingKind

WET_DEADBAND_KPA = 1.0
DRYING_SHARE = 0.2
"""Deadband of drying, as a share of its limit: weather changes it from day to day."""
MORNINGS_S = 26 * 3600.0
CHANNEL_S = 2 * 3600.0


def compile_rules(draft: Draft, kinds: Mapping[AlarmKind, KindSettings]) -> tuple[Rule, ...]:
    """Compile all rules of a draft without problems."""
    own = (_own(draft, name, table) for name, table in draft.settings.rules.items())
    return (*_drying(draft, kinds[AlarmKind.DRYING_FAST]), *_wet(draft, kinds[AlarmKind.WET_TOO_LONG]), *own)


def mornings(draft: Draft) -> Mapping[str, DecisionWindow]:
    """The mornings of the tensiometers whose rise some rule asks for."""
    zone_of = {t.name: draft.settings.zones[t.zone] for t in draft.tensiometers.values()}
    time_zone = draft.settings.site.time_zone
    return {name: DecisionWindow(*(window_of(zone_of[name]) or MORNING), time_zone) for name in sorted(rising(draft))}


def _drying(draft: Draft, kind: KindSettings) -> Iterator[Rule]:
    for name, zone in draft.settings.zones.items():
        limit, members = zone.drying_kpa_per_day, _deciding(draft, name)
        if limit is not None and members:
            level = Level(Quantity.ZONE_RISE, name, limit, True, DRYING_SHARE * limit, MORNINGS_S, members)
            yield Rule(AlarmKey(AlarmKind.DRYING_FAST, f"zone/{name}"), (level,), delays=_delays(kind))


def _wet(draft: Draft, kind: KindSettings) -> Iterator[Rule]:
    for name, zone in draft.settings.zones.items():
        inside = [t for t in draft.tensiometers.values() if t.zone == name]
        if zone.wet_kpa is not None and inside:
            levels = tuple(
                Level(Quantity.TENSION, t.name, zone.wet_kpa, False, WET_DEADBAND_KPA, fresh_s(t.interval_s))
                for t in inside
            )
            key = AlarmKey(AlarmKind.WET_TOO_LONG, f"zone/{name}")
            yield Rule(key, levels, all_of=False, delays=_delays(kind, zone.wet_h * 3600.0))


def _delays(kind: KindSettings, on_s: float = 0.0) -> Delays:
    return Delays(on_s=on_s + kind.on_s, off_s=kind.off_s)


def _own(draft: Draft, name: str, table: RuleTable) -> Rule:
    return Rule(
        key=AlarmKey(AlarmKind.OWN_RULE, f"rule/{name}"),
        terms=tuple(_term(draft, term) for term in table.when or table.any),
        all_of=bool(table.when),
        delays=Delays(on_s=table.for_min * 60.0, off_s=table.clear_after_min * 60.0),
        priority=table.priority,
        say=table.say,
        respond=table.respond,
    )


def _term(draft: Draft, term: TermTable) -> Term:
    subject = subject_of(term)
    if subject not in QUANTITIES:
        return _presence(draft, term)
    quantity, name = Quantity(subject), str(getattr(term, subject))
    above = term.above is not None
    limit = float(term.above if term.above is not None else term.below or 0.0)
    members = (name,) if quantity is Quantity.RISE else _deciding(draft, name) if quantity is Quantity.ZONE_RISE else ()
    return Level(
        quantity, name, limit, above, usual_deadband(term, subject, limit), _fresh_s(draft, quantity, name), members
    )


def _presence(draft: Draft, term: TermTable) -> Presence:
    name = str(term.silent or term.of)
    tensiometer = draft.tensiometers.get(name)
    if tensiometer is None:
        subject = f"source/{name}"
        silent = (AlarmKey(AlarmKind.SILENT_SOURCE, subject), AlarmKey(AlarmKind.SOURCE_DOWN, subject))
    else:
        subject = f"tensiometer/{name}"
        source = f"source/{tensiometer.channel.partition('/')[0]}"
        silent = (AlarmKey(AlarmKind.SILENT, subject), AlarmKey(AlarmKind.SILENT_SOURCE, source))
    if term.finding is None:
        return Presence("silent", name, silent, term.absent)
    return Presence(term.finding, name, (AlarmKey(ALARM_OF[FindingKind(term.finding)], subject),), term.absent)


def _fresh_s(draft: Draft, quantity: Quantity, name: str) -> float:
    if quantity is Quantity.TENSION:
        return fresh_s(draft.tensiometers[name].interval_s)
    if quantity is Quantity.CHANNEL:
        return CHANNEL_S
    return max(MORNINGS_S, *(3.0 * t.interval_s for t in draft.deciding.get(name, ())), 0.0)


def _deciding(draft: Draft, zone: str) -> tuple[str, ...]:
    return tuple(tensiometer.name for tensiometer in draft.deciding.get(zone, ()))


def rising(draft: Draft) -> set[str]:
    """Tensiometers whose rise some rule asks for."""
    zones = [name for name, zone in draft.settings.zones.items() if zone.drying_kpa_per_day is not None]
    names = set()
    for rule in draft.settings.rules.values():
        for term in (*rule.when, *rule.any):
            zones += [term.zone_rise] if term.zone_rise is not None else []
            names |= {term.rise} if term.rise is not None else set()
    return {name for name in names if name in draft.tensiometers} | {
        m for zone in zones for m in _deciding(draft, zone)
    }
