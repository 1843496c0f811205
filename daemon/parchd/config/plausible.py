"""Checks of numbers that are possible, but seldom meant."""

from datetime import time

from parchd.config.draft import Draft
from parchd.config.tensiometers import Tensiometer
from parchd.physics.atmosphere import station_pressure_kpa
from parchd.physics.barometer import WEATHER_KPA
from parchd.physics.reference import Reference

SHALLOW_M = 0.05
TALL_M = 3.0
LOW_M = 1.0
EMPTY_M = 0.05
SMALL_RANGE_KPA = 20.0
DIGEST_FROM = time(4)


def check_plausible(draft: Draft) -> None:
    """Look at depths, heights and times."""
    for tensiometer in draft.tensiometers.values():
        _check_depth(draft, tensiometer)
        _check_height(draft, tensiometer)
        _check_water(draft, tensiometer)
        _check_range(draft, tensiometer)
        _check_at_rest(draft, tensiometer)
    _check_digest(draft)
    _check_quiet_hours(draft)


def _check_depth(draft: Draft, tensiometer: Tensiometer) -> None:
    if tensiometer.depth_m < SHALLOW_M:
        draft.warn(
            tensiometer.loc("depth_cm"),
            found=f"{tensiometer.depth_m * 100:g} cm for {tensiometer.name}",
            expected="5 cm or more",
            hint="depths are in centimetres",
        )


def _check_height(draft: Draft, tensiometer: Tensiometer) -> None:
    column, depth_m = tensiometer.column, tensiometer.depth_m
    if column.zeroed:
        return
    found = f"a transducer {column.transducer_m * 100:.3g} cm above the cup of {tensiometer.name}"
    if column.transducer_m < 0.0:
        _check_below(draft, tensiometer)
    elif column.transducer_m < depth_m:
        draft.warn(
            column.loc,
            found=found,
            expected=f"at least its depth of {depth_m * 100:g} cm, for a transducer above the ground",
            hint="heights are in centimetres and count from the cup's centre; right as it is for a buried transducer",
        )
    elif column.transducer_m > depth_m + TALL_M:
        expected = f"at most {TALL_M:g} m more than its depth of {depth_m * 100:g} cm"
        draft.warn(column.loc, found=found, expected=expected, hint="heights are in centimetres")


def _check_below(draft: Draft, tensiometer: Tensiometer) -> None:
    below_m = -tensiometer.column.transducer_m
    if below_m > LOW_M:
        draft.warn(
            tensiometer.column.loc,
            found=f"a transducer {below_m * 100:.3g} cm below the cup of {tensiometer.name}",
            expected=f"at most {LOW_M:g} m below",
            hint="heights are in centimetres, negative only where the transducer lies deeper than the cup",
        )


def _check_water(draft: Draft, tensiometer: Tensiometer) -> None:
    water_m = tensiometer.column.water_m
    if water_m is not None and water_m < EMPTY_M:
        draft.warn(
            tensiometer.loc("water_cm"),
            found=f"{water_m * 100:g} cm of water above the cup of {tensiometer.name}",
            expected=f"{EMPTY_M * 100:g} cm or more",
            hint="heights are in centimetres; a tube without water shows no tension: fill it",
        )


def _check_range(draft: Draft, tensiometer: Tensiometer) -> None:
    reach = draft.ranges.get(tensiometer.name)
    if reach is not None and reach.usable_kpa < SMALL_RANGE_KPA:
        draft.warn(
            tensiometer.column.loc,
            found=f"a usable limit of {reach.usable_kpa:.1f} kPa for {tensiometer.name}",
            expected=f"{SMALL_RANGE_KPA:g} kPa or more",
            hint=reach.why,
        )


def _check_at_rest(draft: Draft, tensiometer: Tensiometer) -> None:
    """An absolute transducer feels the whole air when there is no vacuum: its range must hold that."""
    wiring = draft.wirings.get(tensiometer.transducer)
    if wiring is None or wiring.ends_kpa is None or wiring.transducer.reference is not Reference.ABSOLUTE:
        return
    air_kpa, highest_kpa = station_pressure_kpa(draft.settings.site.altitude_m), max(wiring.ends_kpa)
    if highest_kpa < air_kpa + WEATHER_KPA and ("site",) not in {loc[:1] for loc in draft.broken}:
        draft.warn(
            tensiometer.loc("transducer"),
            found=f"{wiring.name}, whose range ends at {highest_kpa:g} kPa absolute",
            expected=f"one beyond the air here, {air_kpa:.1f} kPa give or take {WEATHER_KPA:g} for the weather",
            hint="without vacuum it is at the end of its range, where it shows nothing",
        )


def _check_digest(draft: Draft) -> None:
    at = draft.settings.schedule.digest_at
    if at is not None and at < DIGEST_FROM:
        draft.error(
            ("schedule", "digest_at"),
            found=f'"{at:%H:%M}"',
            expected='"04:00" or later, or "never"',
            hint="clocks are changed before that: such a time is missing on one day and comes twice on another",
        )


def _check_quiet_hours(draft: Draft) -> None:
    for name, table in draft.settings.notifiers.items():
        hours = table.get("quiet_hours")
        if isinstance(hours, list) and len(hours) == 2 and hours[0] == hours[1]:
            loc = ("notifiers", name, "quiet_hours")
            draft.error(loc, found=f"{hours[0]} twice", expected="two different times")
