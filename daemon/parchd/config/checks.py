"""Checks of names and wiring: what refers to what."""

from collections.abc import Mapping

from parchd.config.draft import Draft
from parchd.config.schema import suggestion
from parchd.config.tensiometers import Tensiometer
from parchd.config.toml_lines import Loc

CHANNEL_KEYS = ("channel", "supply_channel", "temperature_channel")


def check_references(draft: Draft) -> None:
    """Zones, transducers and sources that tensiometers name must exist."""
    for tensiometer in draft.tensiometers.values():
        _known(draft, "zones", tensiometer.zone, tensiometer.loc("zone"))
        _known(draft, "transducers", tensiometer.transducer, tensiometer.loc("transducer"))
        for key in CHANNEL_KEYS:
            _check_source(draft, getattr(tensiometer, key), tensiometer.loc(key))
        _check_supply(draft, tensiometer)
    for name, wiring in draft.wirings.items():
        _check_source(draft, wiring.supply_channel, ("transducers", name, "supply_channel"))


def check_channels(draft: Draft) -> None:
    """No two tensiometers share a channel, and none is its own supply or thermometer."""
    first: dict[str, Tensiometer] = {}
    for tensiometer in draft.tensiometers.values():
        other = first.setdefault(tensiometer.channel, tensiometer)
        if other is not tensiometer:
            where = draft.origins.at(other.loc("channel"))
            draft.error(
                tensiometer.loc("channel"),
                found=f'"{tensiometer.channel}" of {tensiometer.name}',
                expected=f"a channel of its own; {other.name} has it ({where})",
            )
        for key in CHANNEL_KEYS[1:]:
            if getattr(tensiometer, key) == tensiometer.channel:
                found = f'"{tensiometer.channel}", which is its own signal'
                draft.error(tensiometer.loc(key), found=found, expected="another channel")


def check_use(draft: Draft) -> None:
    """Warn of what nobody uses, and of what is missing for a site that works."""
    zones = {tensiometer.zone for tensiometer in draft.tensiometers.values()}
    transducers = {tensiometer.transducer for tensiometer in draft.tensiometers.values()}
    _warn_unused(draft, "zones", draft.settings.zones, zones, "at least one tensiometer in it")
    _warn_unused(draft, "transducers", draft.settings.transducers, transducers, "a tensiometer that has it")
    if not draft.tensiometers:
        draft.warn(("tensiometers",), found="no tensiometer", expected="at least one", hint="add [tensiometers.NAME]")
    if not draft.settings.notifiers:
        hint = "add [notifiers.NAME]; alarms stand in the journal only"
        draft.warn(("notifiers",), found="no notifier", expected="one that tells people of alarms", hint=hint)


def _known(draft: Draft, group: str, name: str, loc: Loc) -> None:
    known = draft.names(group)
    if name not in known and not draft.all_broken(group):
        kind = group.removesuffix("s")
        hint = suggestion(name, known) or (f"there are {', '.join(sorted(known)[:8])}" if known else "there is none")
        draft.error(loc, found=f'"{name}"', expected=f"the name of a {kind}, as in [{group}.NAME]", hint=hint)


def _check_source(draft: Draft, channel: str | None, loc: Loc) -> None:
    if channel is None or draft.all_broken("sources"):
        return
    source, known = channel.partition("/")[0], draft.names("sources")
    if source not in known:
        hint = suggestion(source, known) or (f"there are {', '.join(sorted(known)[:8])}" if known else "there is none")
        draft.error(loc, found=f'"{channel}"', expected="the name of a source before the slash", hint=hint)


def _check_supply(draft: Draft, tensiometer: Tensiometer) -> None:
    wiring = draft.wirings.get(tensiometer.transducer)
    if wiring is not None and tensiometer.supply_channel and not wiring.transducer.needs_supply:
        draft.warn(
            tensiometer.loc("supply_channel"),
            found=f'"{tensiometer.supply_channel}" for {tensiometer.name}',
            expected="a supply for ratiometric transducers only",
            hint=f"{tensiometer.transducer} does not depend on it",
        )


def _warn_unused(draft: Draft, group: str, tables: Mapping[str, object], used: set[str], expected: str) -> None:
    for name in tables:
        if name not in used:
            draft.warn((group, name), found=f"nothing that uses {name}", expected=expected)
