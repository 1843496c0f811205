"""Checks of irrigation limits: can they be reached, and can they be left?"""

from datetime import time

from parchd.config.draft import Draft
from parchd.config.ground import ZoneTable
from parchd.config.tensiometers import Tensiometer
from parchd.config.toml_lines import Loc

LEAST_DEADBAND_KPA = 3.0
DEADBAND_SHARE = 0.05
MORNING = (time(5), time(8))

Levels = tuple[tuple[str, float], ...]


def levels_of(plan_kpa: float | None, now_kpa: float | None) -> Levels:
    """The limits that are set, by key."""
    return tuple((key, kpa) for key, kpa in (("plan_kpa", plan_kpa), ("now_kpa", now_kpa)) if kpa is not None)


def deadband_kpa(given: float | None, levels: Levels) -> float:
    """The deadband, or the usual one: 3 kPa or 5 % of the highest limit, whichever is more.

    >>> deadband_kpa(None, (("plan_kpa", 30.0), ("now_kpa", 80.0))), deadband_kpa(None, (("plan_kpa", 30.0),))
    (4.0, 3.0)
    """
    if given is not None:
        return given
    return max(LEAST_DEADBAND_KPA, DEADBAND_SHARE * max(kpa for _, kpa in levels))


def window_of(zone: ZoneTable) -> tuple[time, time] | None:
    """The deciding part of the day; ``None``: all of it."""
    return None if zone.decide == "any" else zone.window or MORNING


def window_s(window: tuple[time, time]) -> int:
    """How long a part of the day lasts, over midnight too.

    >>> window_s((time(5), time(8))), window_s((time(22), time(4)))
    (10800, 21600)
    """
    start, end = (moment.hour * 3600 + moment.minute * 60 for moment in window)
    return (end - start) % 86_400


def fresh_s(interval_s: float) -> float:
    """How long a word counts that any reading may bring: an hour, or three intervals."""
    return max(3600.0, 3.0 * interval_s)


def check_limits(draft: Draft) -> None:
    """Check the limits of all zones and of tensiometers that have their own."""
    for name, zone in draft.settings.zones.items():
        loc: Loc = ("zones", name)
        _check_window(draft, zone, loc)
        levels = levels_of(zone.plan_kpa, zone.now_kpa)
        if not levels:
            _warn_without(draft, name, loc)
            continue
        places = {key: (*loc, key) for key in ("plan_kpa", "now_kpa", "deadband_kpa")}
        members = draft.deciding.get(name, ())
        _check_levels(draft, levels, zone.deadband_kpa, places, members)
        _check_members(draft, zone, loc, members)
    for tensiometer in draft.tensiometers.values():
        levels = levels_of(tensiometer.plan_kpa, tensiometer.now_kpa)
        if levels:
            places = {key: tensiometer.loc(key) for key, _ in levels}
            home = draft.settings.zones.get(tensiometer.zone)
            places["deadband_kpa"] = ("zones", tensiometer.zone, "deadband_kpa")
            _check_levels(draft, levels, home.deadband_kpa if home else None, places, (tensiometer,))


def _check_levels(
    draft: Draft, levels: Levels, deadband: float | None, places: dict[str, Loc], members: tuple[Tensiometer, ...]
) -> None:
    values = dict(levels)
    if len(values) == 2 and values["plan_kpa"] >= values["now_kpa"]:
        draft.error(
            places["plan_kpa"],
            found=f"{values['plan_kpa']:g} kPa",
            expected=f"less than now_kpa, which is {values['now_kpa']:g} kPa",
            hint="the soil dries past plan_kpa first",
        )
    band_kpa, (lowest_key, lowest_kpa) = deadband_kpa(deadband, levels), min(levels, key=lambda level: level[1])
    if band_kpa >= lowest_kpa:
        usual = "" if deadband is not None else "the usual "
        draft.error(
            places["deadband_kpa"] if deadband is not None else places[lowest_key],
            found=f"{usual}deadband_kpa of {band_kpa:g} kPa",
            expected=f"less than {lowest_key}, which is {lowest_kpa:g} kPa",
            hint="an alarm clears at its limit less the deadband",
        )
    for key, kpa in levels:
        _check_reachable(draft, kpa, places[key], members)


def _check_reachable(draft: Draft, limit_kpa: float, loc: Loc, members: tuple[Tensiometer, ...]) -> None:
    known = [tensiometer for tensiometer in members if tensiometer.name in draft.ranges]
    if not known:
        return
    worst = min(known, key=lambda tensiometer: draft.ranges[tensiometer.name].usable_kpa)
    reach = draft.ranges[worst.name]
    if limit_kpa > reach.usable_kpa:
        draft.error(
            loc,
            found=f"{limit_kpa:g} kPa",
            expected=f"at most {reach.usable_kpa:.1f} kPa, the usable limit of {worst.name}: {reach.why}",
            hint="an alarm at a tension that a tensiometer cannot show never comes",
        )


def _check_window(draft: Draft, zone: ZoneTable, loc: Loc) -> None:
    if zone.window is None:
        return
    if zone.decide == "any":
        found = 'a window together with decide = "any"'
        draft.error((*loc, "window"), found=found, expected="one of them", hint='a window goes with decide = "morning"')
    elif window_s(zone.window) == 0:
        draft.error((*loc, "window"), found="a window that ends as it starts", expected="two different times")


def _check_members(draft: Draft, zone: ZoneTable, loc: Loc, members: tuple[Tensiometer, ...]) -> None:
    present = [tensiometer for tensiometer in draft.tensiometers.values() if tensiometer.zone == loc[1]]
    if present and not members:
        draft.warn(loc, found="no tensiometer that decides", expected="one: its limits raise no alarm without")
    if members and zone.min_trusted > len(members):
        draft.error(
            (*loc, "min_trusted"),
            found=str(zone.min_trusted),
            expected=f"at most {len(members)}, as many as decide in this zone",
            hint=f"deciding: {', '.join(tensiometer.name for tensiometer in members)}",
        )
    if members and isinstance(zone.vote, int) and zone.vote > len(members):
        draft.error(
            (*loc, "vote"),
            found=str(zone.vote),
            expected=f"at most {len(members)}, as many as decide in this zone",
            hint=f"deciding: {', '.join(tensiometer.name for tensiometer in members)}",
        )
    window = window_of(zone)
    if window is None or window_s(window) == 0:
        return
    for tensiometer in members:
        if tensiometer.interval_s > window_s(window):
            draft.warn(
                tensiometer.loc("interval_s"),
                found=f"{tensiometer.interval_s:g} s for {tensiometer.name}",
                expected=f"samples more often than the {window_s(window)} s of the deciding part of the day",
                hint='or decide = "any" for the zone',
            )
    if zone.on_delay_min * 60 >= window_s(window):
        draft.warn(
            (*loc, "on_delay_min"),
            found=f"{zone.on_delay_min:g} minutes",
            expected=f"less than the {window_s(window) // 60} minutes of the deciding part of the day",
            hint="the alarm comes a day later",
        )


def _warn_without(draft: Draft, name: str, loc: Loc) -> None:
    inside = [tensiometer for tensiometer in draft.tensiometers.values() if tensiometer.zone == name]
    if inside and not all(levels_of(tensiometer.plan_kpa, tensiometer.now_kpa) for tensiometer in inside):
        draft.warn(
            loc, found="no limit", expected="plan_kpa or now_kpa", hint="the zone is shown, but never asks for water"
        )
