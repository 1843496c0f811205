"""Checks of ``[rules.NAME]``, of fast drying and of ground that stays wet."""

from parchd.config.alarm_tables import RuleTable
from parchd.config.draft import Draft
from parchd.config.ground import ZoneTable
from parchd.config.limits import MORNING, window_of, window_s
from parchd.config.own_rules import WET_DEADBAND_KPA, rising
from parchd.config.term_checks import QUANTITIES, TermCheck, subject_of
from parchd.config.toml_lines import Loc


def check_rules(draft: Draft) -> None:
    """Rules must be whole, name what exists, and be able to come and go."""
    for name, rule in draft.settings.rules.items():
        if not any(loc[:2] == ("rules", name) for loc in draft.broken):
            _check_rule(draft, rule, ("rules", name))
    for name, zone in draft.settings.zones.items():
        _check_zone(draft, zone, ("zones", name))
    for name in sorted(rising(draft)):
        _check_window(draft, name)


def _check_rule(draft: Draft, rule: RuleTable, loc: Loc) -> None:
    if bool(rule.when) == bool(rule.any):
        found = "when together with any" if rule.when else "no condition"
        draft.error(loc, found=found, expected="one of when (all must hold), any (one is enough)")
    for key in ("when", "any"):
        for number, term in enumerate(getattr(rule, key)):
            TermCheck(draft, term, (*loc, key, number)).check()
    _check_together(draft, rule, loc)


def _check_together(draft: Draft, rule: RuleTable, loc: Loc) -> None:
    """Limits of one thing that can never be reached together."""
    least: dict[tuple[str, str], float] = {}
    for term in rule.when:
        subject = subject_of(term)
        if subject in QUANTITIES and term.above is not None:
            key = (subject, str(getattr(term, subject)))
            least[key] = max(term.above, least.get(key, term.above))
    for number, term in enumerate(rule.when):
        subject = subject_of(term)
        above = least.get((subject, str(getattr(term, subject)))) if subject else None
        if above is not None and term.below is not None and term.below < above:
            draft.error(
                (*loc, "when", number, "below"),
                found=f"{term.below:g}, while another condition of it asks for {above:g} or more",
                expected="conditions that can hold together",
                hint="any = [...] where one of them is enough",
            )


def _check_zone(draft: Draft, zone: ZoneTable, loc: Loc) -> None:
    name = str(loc[1])
    inside = any(tensiometer.zone == name for tensiometer in draft.tensiometers.values())
    if zone.drying_kpa_per_day is not None and inside and not draft.deciding.get(name):
        found, expected = "no tensiometer that decides in this zone", "one: its mornings tell how fast it dries"
        draft.error((*loc, "drying_kpa_per_day"), found=found, expected=expected)
    limits = [kpa for kpa in (zone.plan_kpa, zone.now_kpa) if kpa is not None]
    if zone.wet_kpa is not None and limits and zone.wet_kpa + WET_DEADBAND_KPA >= min(limits):
        draft.error(
            (*loc, "wet_kpa"),
            found=f"{zone.wet_kpa:g} kPa",
            expected=f"less than the limits of the zone, {min(limits):g} kPa, by more than {WET_DEADBAND_KPA:g}",
        )


def _check_window(draft: Draft, name: str) -> None:
    tensiometer = draft.tensiometers[name]
    zone = draft.settings.zones.get(tensiometer.zone)
    window = (window_of(zone) if zone is not None else None) or MORNING
    if tensiometer.interval_s > window_s(window) > 0:
        draft.warn(
            tensiometer.loc("interval_s"),
            found=f"{tensiometer.interval_s:g} s for {name}, whose rise a rule asks for",
            expected=f"samples more often than the {window_s(window)} s of the morning",
        )
