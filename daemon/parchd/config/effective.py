"""What a configuration amounts to, in words and tables; never a secret."""

from collections.abc import Iterable, Iterator

from parchd.alarms.polls import Poll, poll_words
from parchd.alarms.rules import IrrigationRule, Rule
from parchd.config.judging import USUAL_KPA, decides_at_kpa, newest_us
from parchd.config.layout import table, wrapped
from parchd.config.loaded import Loaded, NotifierEntry
from parchd.config.people_compile import has_own_recipients
from parchd.config.words import (
    adapter_words,
    barometer_words,
    budget_words,
    calibration_words,
    limit_words,
    policy_words,
    signal_words,
    term_words,
    web_words,
)
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.head import head_kpa
from parchd.pipeline.budgets import budget_at
from parchd.pipeline.setup import TensiometerSetup

REFERENCE_C = 20.0


def effective_text(loaded: Loaded, now_us: int | None = None) -> str:
    """Write the effective values of a configuration for a terminal.

    Args:
        loaded: the configuration.
        now_us: time for which calibrations in force are shown; ``None``: the newest of each.
    """
    sections = [
        _site(loaded),
        _section("Zones", (line for name in loaded.settings.zones for line in _zone(loaded, name))),
        _section("Rules", (line for rule in loaded.alarms.rules if rule.is_own for line in _rule(rule))),
        _section("Tensiometers", _ground_table(loaded)),
        _section("Signals", _signals(loaded, now_us)),
        *(_section(group.capitalize(), _adapters(loaded, group)) for group in ("sources", "sinks", "notifiers")),
    ]
    return "\n\n".join(section for section in sections if section)


def _site(loaded: Loaded) -> str:
    site, store = loaded.settings.site, loaded.store
    digest = loaded.schedule.digest_at
    kept = "for ever" if store.keep_days is None else f"{store.keep_days} days"
    facts = [
        ("time zone", site.time_zone),
        ("altitude", f"{site.altitude_m:g} m, {station_pressure_kpa(site.altitude_m):.1f} kPa of air"),
        ("barometer", barometer_words(site)),
        ("water", f"{site.water_c:g} C where none is measured"),
        ("limit", limit_words(site)),
        ("journal", f"{store.path}, readings kept {kept}"),
        ("digest", "never" if digest is None else f"{digest:%H:%M} local time"),
        *([] if loaded.web is None else [("pages", web_words(loaded.web))]),
    ]
    lines = (line for name, text in facts for line in wrapped(text, f"  {name:<11}", " " * 13))
    return "\n".join([site.name, *lines])


def _section(title: str, lines: Iterable[str]) -> str:
    lines = list(lines)
    return "\n".join([title, *lines]) if lines else ""


def _zone(loaded: Loaded, name: str) -> Iterator[str]:
    zone = loaded.settings.zones[name]
    words = "; ".join(word for word in (zone.title, zone.crop, zone.soil) if word)
    yield from wrapped(f"{name}  {words}".rstrip(), "  ", "      ")
    rules = {rule.subject: rule for rule in loaded.alarms.irrigation}
    rule = rules.get(f"zone/{name}")
    yield from wrapped(_rule_words(rule) if rule else "no irrigation alarm", "      ", "      ")
    if zone.drying_kpa_per_day is not None:
        yield from wrapped(f"told when it dries by {zone.drying_kpa_per_day:g} kPa a day or more", "      ", "      ")
    if zone.wet_kpa is not None:
        yield from wrapped(
            f"told when a tensiometer stays at {zone.wet_kpa:g} kPa or below for {zone.wet_h:g} h", "      ", "      "
        )


def _rule(rule: Rule) -> Iterator[str]:
    yield from wrapped(f"{rule.key.name}  {rule.say}", "  ", "      ")
    joined = (" and " if rule.all_of else " or ").join(map(term_words, rule.terms))
    yield from wrapped(
        f"when {joined}; raised after {rule.delays.on_s / 60:g} min, cleared after {rule.delays.off_s / 60:g} min",
        "      ", "      ",
    )  # fmt: skip


def _rule_words(rule: IrrigationRule) -> str:
    levels = [("plan at", rule.plan_kpa), ("irrigate at", rule.now_kpa)]
    limits = ", ".join(f"{word} {kpa:g} kPa" for word, kpa in levels if kpa is not None)
    window = rule.window
    when = f"{window.start:%H:%M} to {window.end:%H:%M} standard time" if window else "any time"
    return (
        f"{limits}; clears {rule.deadband_kpa:g} kPa lower; raised after {rule.delays.on_s / 60:g} min, cleared after "
        f"{rule.delays.off_s / 60:g} min; by readings of {when} from {', '.join(rule.tensiometers)}"
        f"{_vote_words(rule)}{f'; at least {rule.min_trusted} trusted' if rule.min_trusted > 1 else ''}"
    )


def _vote_words(rule: IrrigationRule) -> str:
    return "" if rule.way is Poll.MEDIAN else f"; vote: {poll_words(rule.way, len(rule.tensiometers))}"


def _ground_table(loaded: Loaded) -> list[str]:
    if not loaded.pipeline.tensiometers:
        return []
    header = ("name", "zone/station", "depth cm", "height cm", "head kPa", "limit kPa", "plan", "now", "votes")
    rows = [_ground_row(loaded, setup) for setup in loaded.pipeline.tensiometers]
    lines = table([header, *rows], left={0, 1, 8})
    notes = ["", *wrapped(_NOTE, "  ", "  ")]
    return lines + notes


_NOTE = (
    "head: what the column of water takes off a reading at 20 C; limit: highest tension that can be believed; "
    "plan, now: tension in kPa at which the zone, or with * the tensiometer itself, asks for water; "
    "votes: whether its readings decide for the zone"
)


def _ground_row(loaded: Loaded, setup: TensiometerSetup) -> tuple[str, ...]:
    place = setup.place
    zeroed = place.tensiometer in loaded.zeroed
    decides = place.tensiometer in loaded.schedulers.get(place.zone, ())
    return (
        place.tensiometer,
        f"{place.zone}/{place.station}",
        f"{place.depth_m * 100:g}",
        "zeroed" if zeroed else f"{setup.height_m * 100:.3g}",
        f"{head_kpa(setup.height_m, REFERENCE_C):.2f}",
        f"{setup.usable_limit_kpa:.1f}",
        *_limits(loaded, setup, decides=decides),
        "yes" if decides else "no",
    )


def _limits(loaded: Loaded, setup: TensiometerSetup, *, decides: bool) -> tuple[str, str]:
    rules = {rule.subject: rule for rule in loaded.alarms.irrigation}
    own, zone = rules.get(f"tensiometer/{setup.place.tensiometer}"), rules.get(f"zone/{setup.place.zone}")
    if own is not None:
        return _kpa(own.plan_kpa, "*"), _kpa(own.now_kpa, "*")
    if zone is not None and decides:
        return _kpa(zone.plan_kpa), _kpa(zone.now_kpa)
    return "-", "-"


def _kpa(value: float | None, mark: str = "") -> str:
    return "-" if value is None else f"{value:g}{mark}"


def _signals(loaded: Loaded, now_us: int | None) -> Iterator[str]:
    for setup in loaded.pipeline.tensiometers:
        name, at_kpa = setup.place.tensiometer, decides_at_kpa(loaded, setup.place)
        in_force_us = newest_us(setup) if now_us is None else now_us
        known = calibration_words(setup.calibrations, in_force_us)
        doubt = budget_words(budget_at(setup, at_kpa, in_force_us), at_kpa)
        yield from wrapped(f"{name}  {setup.channel}  {signal_words(setup)}", "  ", "      ")
        yield from wrapped(f"{known}; {doubt}", "      ", "      ")
    if loaded.pipeline.tensiometers:
        yield from ("", *wrapped(_SIGNAL_NOTE, "  ", "  "))


_SIGNAL_NOTE = (
    "U: expanded uncertainty (k = 2) of a tension at the limit of the zone, or at "
    f"{USUAL_KPA:g} kPa where there is none; in brackets what it comes from most; parchd budget NAME tells the rest"
)


def _adapters(loaded: Loaded, group: str) -> Iterator[str]:
    for name, entry in getattr(loaded, group).items():
        yield from wrapped(f"{name}  {entry.kind}: {adapter_words(entry)}".rstrip(": "), "  ", "      ")
        if isinstance(entry, NotifierEntry):
            own = has_own_recipients(entry, loaded.settings.people)
            yield from wrapped(policy_words(entry.policy, own=own), "      ", "      ")
