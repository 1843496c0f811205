"""Checks of numbers that are possible, but seldom meant."""

from datetime import time

from parchd.config.draft import Draft
from parchd.config.tensiometers import Tensiometer

SHALLOW_M = 0.05
TALL_M = 3.0
SMALL_RANGE_KPA = 20.0
DIGEST_FROM = time(4)


def check_plausible(draft: Draft) -> None:
    """Look at depths, heights and times."""
    for tensiometer in draft.tensiometers.values():
        _check_depth(draft, tensiometer)
        _check_height(draft, tensiometer)
        _check_range(draft, tensiometer)
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
    if column.zeroed or column.height_m < 0.0:
        return
    found = f"{column.height_m * 100:.3g} cm of water for {tensiometer.name}"
    if column.height_m < depth_m:
        draft.warn(
            column.loc,
            found=found,
            expected=f"at least its depth of {depth_m * 100:g} cm, for a transducer above the ground",
            hint="heights are in centimetres and count from the cup's centre; right as it is for a buried transducer",
        )
    elif column.height_m > depth_m + TALL_M:
        expected = f"at most {TALL_M:g} m more than its depth of {depth_m * 100:g} cm"
        draft.warn(column.loc, found=found, expected=expected, hint="heights are in centimetres")


def _check_range(draft: Draft, tensiometer: Tensiometer) -> None:
    reach = draft.ranges.get(tensiometer.name)
    if reach is not None and reach.usable_kpa < SMALL_RANGE_KPA:
        draft.warn(
            tensiometer.column.loc,
            found=f"a usable limit of {reach.usable_kpa:.1f} kPa for {tensiometer.name}",
            expected=f"{SMALL_RANGE_KPA:g} kPa or more",
            hint=reach.why,
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
