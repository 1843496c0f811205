"""The story holds together, and the simulated soil plays its part in time."""

from itertools import pairwise
from statistics import median

import pytest

from parchd.clock import US_PER_S
from parchd.demo.farm import CREEK, NORTH, NURSERY, ZONES, tensiometers
from parchd.demo.script import CUT_WIRE, LOOSE_PLUG, START_US, STORY, TROUBLES, WATERINGS, minutes_since_start, told
from parchd.demo.simulation import boards
from parchd_adapters.sim import KIND
from parchd_adapters.sim.model import Model

WINDOW_MIN = 20
ON_DELAY_MIN, OFF_DELAY_MIN, DEADBAND_KPA = 2, 5, 3.0


def creek_medians() -> list[float]:
    """Tension of the creek terrace as it is judged, minute by minute: the median of the shallow cups."""
    (options,) = [board.options for board in boards(0.0) if board.zone is CREEK]
    model = Model(KIND.options.model_validate(options))
    state, found = model.start(START_US), []
    for _ in range(100):
        soil = model.soil_kpa(state)
        found.append(median(kpa for name, kpa in soil.items() if name.endswith("30")))
        state = model.step(state, 60)
    return found


def first(values: list[float], start: int, limit: float, *, above: bool) -> int:
    return next(minute for minute, kpa in enumerate(values) if minute >= start and (kpa >= limit) is above)


def test_the_farm_has_three_zones_six_stations_and_twelve_tensiometers_at_two_depths() -> None:
    found = list(tensiometers())
    assert (len(ZONES), len({(zone.key, one.station) for zone, one in found}), len(found)) == (3, 6, 12)
    assert len({one.name for _, one in found}) == 12
    assert {one.depth_cm for _, one in found} == {30, 60}


def test_the_story_is_told_in_order_each_moment_once() -> None:
    assert all(one.minute <= other.minute for one, other in pairwise(STORY))
    spans = [told(float(minute), minute + 1.0) for minute in range(100)]
    assert [moment for span in spans for moment in span] == list(STORY)


def test_every_trouble_and_watering_is_told_of_when_it_happens() -> None:
    minutes = {moment.minute for moment in STORY}
    for trouble in TROUBLES:
        assert {trouble.begin_min, trouble.end_min} <= minutes
    assert {watering.begin_min for watering in WATERINGS} <= minutes


def test_the_first_trouble_is_seen_within_fifteen_seconds_and_the_wire_breaks_in_the_nursery() -> None:
    assert LOOSE_PLUG.begin_min + 5 < 15
    assert LOOSE_PLUG.tensiometer in {one.name for one in NORTH.tensiometers if one.depth_cm == 60}
    assert CUT_WIRE.tensiometer in {one.name for one in NURSERY.tensiometers}


def test_the_creek_terrace_asks_for_water_within_the_first_40_seconds_and_before_the_valve_is_opened() -> None:
    medians = creek_medians()
    plan = first(medians, WINDOW_MIN, CREEK.plan_kpa, above=True) + ON_DELAY_MIN
    now = first(medians, WINDOW_MIN, CREEK.now_kpa, above=True) + ON_DELAY_MIN
    assert medians[0] < CREEK.plan_kpa
    assert WINDOW_MIN <= plan < now <= 37 < WATERINGS[0].begin_min


def test_both_alarms_have_cleared_before_the_digest_and_more_than_a_minute_apart() -> None:
    medians, opened = creek_medians(), int(WATERINGS[0].begin_min)
    now = first(medians, opened, CREEK.now_kpa - DEADBAND_KPA, above=False) + OFF_DELAY_MIN
    plan = first(medians, opened, CREEK.plan_kpa - DEADBAND_KPA, above=False) + OFF_DELAY_MIN
    assert opened < now < plan < 60


def test_boards_that_are_switched_on_late_keep_to_the_script() -> None:
    (north, _, nursery) = boards(3.5)
    assert [fault["after_s"] for fault in _list(north.options["faults"])] == [(LOOSE_PLUG.begin_min - 3.5) * 60]
    assert [fault["after_s"] for fault in _list(nursery.options["faults"])] == [(CUT_WIRE.begin_min - 3.5) * 60]


def test_minutes_are_counted_from_the_start() -> None:
    assert minutes_since_start(START_US + 3600 * US_PER_S) == pytest.approx(60.0)


def _list(value: object) -> list[dict[str, object]]:
    assert isinstance(value, list)
    return value
