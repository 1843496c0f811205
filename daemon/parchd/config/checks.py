"""Checks of names: what refers to what, and what nothing refers to."""

from collections.abc import Iterable

from parchd.config.draft import Draft
from parchd.config.parts import Parts
from parchd.config.schema import among, suggestion
from parchd.config.toml_lines import Loc
from parchd.physics.barometer import WEATHER_KPA
from parchd.physics.transducers import GENERIC

CHANNEL_KEYS = ("channel", "supply_channel", "temperature_channel")
BAROMETER: Loc = ("site", "barometer_channel")


def check_references(draft: Draft) -> None:
    """Zones, transducers and sources that tensiometers name must exist."""
    for parts in draft.gathered:
        for group, key in (("zones", "zone"), ("transducers", "transducer")):
            if key in parts.values:
                _check_name(draft, group, parts.values[key], parts.loc(key))
        for key in CHANNEL_KEYS:
            _check_source(draft, parts.values.get(key), parts.loc(key))
        _check_supply(draft, parts)
    for name, wiring in draft.wirings.items():
        _check_source(draft, wiring.supply_channel, ("transducers", name, "supply_channel"))
    _check_source(draft, draft.settings.site.barometer_channel, BAROMETER)


def check_channels(draft: Draft) -> None:
    """No two tensiometers share a channel, and none is its own supply or thermometer."""
    first: dict[str, Parts] = {}
    for parts in draft.gathered:
        channel = parts.values.get("channel")
        if channel is None:
            continue
        other = first.setdefault(channel, parts)
        if other is not parts:
            where = draft.origins.at(other.loc("channel"))
            found, expected = f'"{channel}" of {parts.name}', f"a channel of its own; {other.name} has it ({where})"
            draft.error(parts.loc("channel"), found=found, expected=expected)
        for key in CHANNEL_KEYS[1:]:
            if parts.values.get(key) == channel:
                draft.error(parts.loc(key), found=f'"{channel}", which is its own signal', expected="another channel")


def check_barometer(draft: Draft) -> None:
    """What needs a barometer should have one, and no tensiometer is one."""
    site = draft.settings.site
    for parts in draft.gathered:
        if site.barometer_channel is not None and parts.values.get("channel") == site.barometer_channel:
            found = f'"{site.barometer_channel}", the channel of tensiometer {parts.name}'
            draft.error(BAROMETER, found=found, expected="a channel with the pressure of the air")
    if site.barometer_channel is not None:
        return
    if site.barometer_u_kpa is not None:
        found = "an uncertainty without a barometer"
        draft.warn(("site", "barometer_u_kpa"), found=found, expected="barometer_channel with it")
    airy = [t.name for t in draft.tensiometers.values() if _needs_air(draft, t.transducer)]
    if airy:
        draft.warn(
            ("site",),
            found=f"no barometer for {', '.join(airy[:3])}{', ...' * (len(airy) > 3)}, which measure no gauge pressure",
            expected="barometer_channel: a channel with the pressure of the air at the site",
            hint=f"weather moves the air {WEATHER_KPA:g} kPa to either side of what the altitude says, and the tension "
            "with it",
        )


def check_use(draft: Draft) -> None:
    """Warn of what nobody uses, and of what is missing for a site that works."""
    _warn_unused(draft, "zones", "zone", draft.settings.zones, "at least one tensiometer in it")
    _warn_unused(draft, "transducers", "transducer", draft.settings.transducers, "a tensiometer that has it")
    if not draft.gathered:
        draft.warn(("tensiometers",), found="no tensiometer", expected="at least one", hint="add [tensiometers.NAME]")
    if not draft.settings.notifiers:
        hint = "add [notifiers.NAME]; alarms stand in the journal only"
        draft.warn(("notifiers",), found="no notifier", expected="one that tells people of alarms", hint=hint)


def _check_name(draft: Draft, group: str, name: str, loc: Loc) -> None:
    known = draft.names(group)
    generic = set(GENERIC) if group == "transducers" else set()
    if name not in known | generic and not draft.all_broken(group):
        expected = (
            f"the name of a {group.removesuffix('s')}, as in [{group}.NAME]{', or a generic one' * bool(generic)}"
        )
        draft.error(
            loc, found=f'"{name}"', expected=expected, hint=suggestion(name, known | generic) or among(name, known)
        )


def _needs_air(draft: Draft, transducer: str) -> bool:
    wiring = draft.wirings.get(transducer)
    return wiring is not None and wiring.transducer.reference.needs_air


def _check_source(draft: Draft, channel: str | None, loc: Loc) -> None:
    if channel is None or draft.all_broken("sources"):
        return
    source, known = channel.partition("/")[0], draft.names("sources")
    if source not in known:
        expected = "the name of a source before the slash"
        draft.error(loc, found=f'"{channel}"', expected=expected, hint=among(source, known))


def _check_supply(draft: Draft, parts: Parts) -> None:
    wiring, channel = draft.wirings.get(parts.values.get("transducer", "")), parts.values.get("supply_channel")
    if wiring is not None and channel is not None and not wiring.transducer.needs_supply:
        draft.warn(
            parts.loc("supply_channel"),
            found=f'"{channel}" for {parts.name}',
            expected="a supply for ratiometric transducers and bridges only",
            hint=f"{parts.values['transducer']} does not depend on it",
        )


def _warn_unused(draft: Draft, group: str, key: str, names: Iterable[str], expected: str) -> None:
    used = {parts.values.get(key) for parts in draft.gathered}
    for name in names:
        if name not in used:
            draft.warn((group, name), found=f"nothing that uses {name}", expected=expected)
