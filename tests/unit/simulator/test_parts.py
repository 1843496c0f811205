"""Laws of the smaller parts: weather, crops, the farmer, the grid of time, wirings."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.simulator.climate import CLIMATES
from parchd.simulator.crop import CROPS, roots, use_of
from parchd.simulator.farmer import Farmer
from parchd.simulator.grid import Grid, grid_of
from parchd.simulator.plan import Plan
from parchd.simulator.richards import ground_of
from parchd.simulator.weather import SLOTS_PER_DAY, weather
from parchd.simulator.wiring import WIRINGS


@pytest.mark.parametrize("name", CLIMATES)
def test_weather_keeps_to_what_its_climate_can_bring(name: str) -> None:
    climate = CLIMATES[name]
    made = weather(3, climate, climate.start_days[0], 180, 0.0, 100.0)
    daily = made.et_mm_d.reshape(-1, SLOTS_PER_DAY).mean(axis=1)
    assert daily.min() > 0.05
    assert daily.max() < 1.02 * climate.et_high_mm
    assert (made.et_mm_d[(made.hour < 5.0) | (made.hour > 20.0)] == 0.0).all()
    assert made.rain_mm_h.sum() / 4.0 == pytest.approx(sum(mm for _, _, mm in made.storms))
    assert np.abs(made.air_kpa - made.air_kpa.mean()).max() < 4.0
    assert made.top_c.min() > -20.0
    assert made.top_c.max() < 50.0


def test_the_afternoon_is_warmer_than_the_night() -> None:
    made = weather(3, CLIMATES["desert"], 100, 60, 0.0, 100.0)
    by_hour = made.top_c.reshape(-1, SLOTS_PER_DAY).mean(axis=0)
    assert 13.0 < made.hour[int(np.argmax(by_hour))] < 17.0


@pytest.mark.parametrize("name", CROPS)
def test_roots_take_all_their_water_from_where_they_are(name: str) -> None:
    thickness = np.full(20, 7.0)
    ground = ground_of([], thickness)
    depth_m = np.array([CROPS[name].root_m])
    share = roots(ground, depth_m)
    assert share.sum() == pytest.approx(1.0)
    assert (np.diff(share[0]) <= 0.0).all()
    assert (share[0, ground.centre_cm > 110.0 * depth_m[0]] == 0.0).all()
    assert use_of(CROPS[name], np.linspace(0.0, 1.0, 100)).max() <= 1.2


def farmer(*, coarse: bool = False) -> Farmer:
    return Farmer([40.0], [coarse], 30 * SLOTS_PER_DAY, np.random.default_rng(1))


def test_a_farmer_gives_no_water_to_wet_ground() -> None:
    one = farmer()
    for day in range(30):
        one.look(day * SLOTS_PER_DAY, 0, 39.0, 0.4, 5.0)
    assert one.gifts == []


def test_a_farmer_waters_dry_ground_within_two_days_and_not_twice() -> None:
    one = farmer()
    one.look(0, 0, 41.0, 0.45, 5.0)
    one.look(10, 0, 41.0, 0.45, 5.0)
    (gift,) = one.gifts
    assert 0 < gift.first < 2 * SLOTS_PER_DAY
    assert 5.0 < gift.mm < 60.0
    assert one.rate_mm_h.sum() / 4.0 == pytest.approx(gift.mm)


def test_a_farmer_hurries_before_a_cup_is_in_danger() -> None:
    one = farmer()
    one.look(96, 0, 0.0, 0.7, 5.0)
    (gift,) = one.gifts
    assert gift.first == 97
    assert gift.mm > 30.0


def test_sandy_ground_gets_a_little_each_day() -> None:
    one = farmer(coarse=True)
    for day in range(10):
        one.look(day * SLOTS_PER_DAY, 0, 25.0, 0.3, 5.0)
    assert len(one.gifts) == 10
    assert all(gift.mm == pytest.approx(6.0) for gift in one.gifts)


@given(st.sampled_from([600.0, 900.0, 1200.0, 1800.0, 3600.0]), st.integers(1, 30))
def test_samples_are_moments_of_the_grid(interval_s: float, days: int) -> None:
    grid = grid_of(Plan(1, days=days, interval_s=interval_s))
    assert len(grid.sample_us) == grid.intervals == days * 86_400 // interval_s
    assert set(grid.sample_us.tolist()) <= set(grid.time_us.tolist())
    assert grid.step_s <= 900.0
    assert grid.sample_us[-1] == Plan(1, days=days).end_us


@given(st.integers(0, 99), st.floats(0.0, 1.0))
def test_a_course_over_slots_is_joined_by_lines(slot: int, share: float) -> None:
    grid = Grid(0, 900.0, 1, 100)
    course = np.cumsum(np.full(101, 2.0)) + share
    assert grid.at_slots(course)[slot] == pytest.approx(2.0 * (slot + 2) + share)


def test_what_lasts_to_the_end_of_the_season_touches_its_last_sample() -> None:
    grid = Grid(0, 900.0, 2, 10)
    end_us = 18_000 * US_PER_S
    assert grid.index(end_us) == 20
    assert grid.sample_index(end_us) == 10
    assert grid.sample_index(0) == 0


@given(st.sampled_from(sorted(WIRINGS)), st.floats(-95.0, 10.0))
@settings(max_examples=200)
def test_signals_are_what_the_transducer_makes_the_pressure_of(name: str, gauge_kpa: float) -> None:
    wiring = WIRINGS[name]
    signal = wiring.signal(np.array([gauge_kpa]))
    again = wiring.transducer.indicated_kpa(signal, wiring.transducer.nominal_supply_v)
    assert again == pytest.approx(gauge_kpa, abs=1e-9)


@given(st.sampled_from(sorted(WIRINGS)), st.floats(-90.0, 5.0))
@settings(max_examples=200)
def test_steps_of_converters_are_small(name: str, gauge_kpa: float) -> None:
    wiring = WIRINGS[name]
    sent = wiring.sent(wiring.signal(np.array([gauge_kpa])))
    near = wiring.sent(wiring.signal(np.array([gauge_kpa + 0.3])))
    assert sent[0] != near[0]
