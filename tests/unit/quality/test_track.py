"""All tests of single samples, one sample after another."""

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.contract import Cause
from parchd.quality.limits import HOUR_US, Limits, limits_of
from parchd.quality.track import MEASURED, Track, Verdict, step

QUARTER_US = HOUR_US // 4
DAY_US = 24 * HOUR_US
START_US = 20_600 * DAY_US
LIMITS = limits_of(900.0)

Samples = list[tuple[int, float]]


def every(interval_us: int, *values: float, start_us: int = START_US) -> Samples:
    return [(start_us + n * interval_us, value) for n, value in enumerate(values)]


class Follower:
    """Follows one channel."""

    def __init__(self, limits: Limits = LIMITS) -> None:
        self.limits = limits
        self.tracks: dict[str, Track] = {}

    def one(self, time_us: int, kpa: float | None, cause: Cause = Cause.NONE, label: str = "") -> Verdict:
        return step(self.limits, self.tracks, "one", time_us, kpa, cause, label)

    def all(self, samples: Samples) -> list[Verdict]:
        return [self.one(*sample) for sample in samples]


def causes(samples: Samples, limits: Limits = LIMITS) -> list[Cause]:
    return [verdict.cause for verdict in Follower(limits).all(samples)]


def spikes(samples: Samples, limits: Limits = LIMITS) -> list[int]:
    """Positions of samples that later ones showed to be spikes."""
    found = [verdict.spike_us for verdict in Follower(limits).all(samples)]
    return [[us for us, _ in samples].index(spike_us) for spike_us in found if spike_us is not None]


def drying(days: float, start_kpa: float = 12.0, per_day: float = 3.0, interval_us: int = QUARTER_US) -> Samples:
    count = round(days * DAY_US / interval_us)
    return every(interval_us, *(start_kpa + per_day * n * interval_us / DAY_US for n in range(count)))


# --- what must be left alone


@pytest.mark.parametrize("interval_s", [1, 60, 600, 900, 3600, 6 * 3600])
def test_soil_that_dries_and_is_wetted_is_left_alone_at_any_interval(interval_s: int) -> None:
    interval_us = interval_s * US_PER_S
    limits, samples = limits_of(interval_s), []
    for n in range(2000):
        hours = n * interval_s / 3600
        samples.append((START_US + n * interval_us, 3.0 + 1.5 * (hours % 40.0)))
    assert set(causes(samples, limits)) == {Cause.NONE}
    assert spikes(samples, limits) == []


def test_a_wetting_that_comes_at_once_is_neither_a_spike_nor_too_fast() -> None:
    samples = every(QUARTER_US, 58.0, 58.2, 58.3, 2.0, 1.5, 1.4, 1.4)
    assert causes(samples) == [Cause.NONE] * 7
    assert spikes(samples) == []


def test_soil_between_rare_samples_may_be_wetted_and_dry_again() -> None:
    samples = every(6 * HOUR_US, 30.0, 31.0, 22.0, 30.0, 31.0)
    assert causes(samples, limits_of(6 * 3600.0)) == [Cause.NONE] * 5
    assert spikes(samples, limits_of(6 * 3600.0)) == []


def test_the_noise_of_a_converter_is_no_rate() -> None:
    chance = random.Random(1)
    samples = every(US_PER_S, *(30.0 + chance.uniform(-1.5, 1.5) for _ in range(5000)))
    assert set(causes(samples, limits_of(1.0))) == {Cause.NONE}


def test_wet_soil_is_flat_with_good_reason() -> None:
    assert set(causes(every(QUARTER_US, *[5.0] * 1000))) == {Cause.NONE}


def test_soil_that_drains_slowly_near_field_capacity_is_not_attenuated() -> None:
    samples = every(QUARTER_US, *(8.0 + 0.0006 * n for n in range(960)))
    assert set(causes(samples)) == {Cause.NONE}


# --- what must be found


def test_a_rise_is_too_fast_by_its_rate_over_an_hour_and_by_its_height_at_once() -> None:
    assert causes(every(HOUR_US, 20.0, 30.0, 40.1)) == [Cause.NONE, Cause.NONE, Cause.RISE_RATE]
    assert causes(every(QUARTER_US, 20.0, 25.0, 30.1)) == [Cause.NONE, Cause.NONE, Cause.RISE_RATE]


def test_samples_every_second_show_a_rise_that_takes_minutes() -> None:
    samples = every(US_PER_S, *(20.0 + max(0, n - 1200) * 0.02 for n in range(2400)))
    found = causes(samples, limits_of(1.0))
    assert Cause.RISE_RATE not in found[:1200]
    assert found.index(Cause.RISE_RATE) == pytest.approx(1200 + 5.0 / 0.02, abs=60)


def test_a_level_that_jumped_up_is_suspect_for_a_while_and_then_what_it_is() -> None:
    found = causes(every(60 * US_PER_S, *[20.0] * 30, *[40.0] * 30), limits_of(60.0))
    suspect = [n for n, cause in enumerate(found) if cause is Cause.RISE_RATE]
    assert suspect == list(range(30, suspect[-1] + 1))
    assert 10 <= len(suspect) <= 20


@pytest.mark.parametrize("value", [2.0, 24.9, 35.1, 70.0])
def test_one_value_apart_from_both_neighbours_is_known_as_a_spike_one_sample_later(value: float) -> None:
    samples = every(QUARTER_US, 30.0, 30.0, value, 30.0, 30.0)
    assert spikes(samples) == [2]


def test_what_came_after_a_spike_is_compared_with_what_came_before_it() -> None:
    samples = every(QUARTER_US, 30.0, 30.0, 2.0, 30.0, 30.1)
    assert causes(samples) == [Cause.NONE] * 5


def test_of_every_second_value_that_jumps_each_is_a_spike_and_the_others_are_not() -> None:
    samples = every(QUARTER_US, 30.0, 2.0, 30.0, 2.0, 30.0, 60.0, 30.0)
    assert spikes(samples) == [1, 3, 5]


def test_the_last_value_before_the_sensor_is_worked_on_is_no_spike() -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, 30.0, 30.0, 2.0))
    assert follower.one(START_US + 3 * QUARTER_US, 30.0, Cause.SERVICE) == Verdict(Cause.NONE)
    assert follower.one(START_US + 4 * QUARTER_US, 30.0) == Verdict(Cause.NONE)


def test_a_value_that_stands_still_is_flat_after_a_day_and_until_it_moves() -> None:
    found = causes(every(QUARTER_US, *[20.0] * 200, *[20.2] * 5))
    assert found[:96] == [Cause.NONE] * 96
    assert found[96:200] == [Cause.FLAT_LINE] * 104
    assert found[200:] == [Cause.NONE] * 5


def test_a_spike_does_not_interrupt_a_flat_line() -> None:
    found = causes(every(QUARTER_US, *[20.0] * 150, 2.0, *[20.0] * 50))
    assert [n for n in range(96, 201) if found[n] is not Cause.FLAT_LINE] == [150]


def test_a_coarse_converter_may_stay_on_a_code_for_two_days() -> None:
    coarse = limits_of(900.0, step_kpa=0.122)
    found = causes(every(QUARTER_US, *[20.0] * 400), coarse)
    assert found.index(Cause.FLAT_LINE) == 288
    assert set(causes(every(QUARTER_US, *([20.0] * 150 + [20.122] * 150) * 2), coarse)) == {Cause.NONE}


def test_a_value_that_moves_too_little_in_three_days_is_attenuated() -> None:
    samples = every(QUARTER_US, *(20.0 + 0.02 * (n // 96 % 3) + 0.06 * (n % 2) for n in range(600)))
    found = causes(samples)
    assert found[:288] == [Cause.NONE] * 288
    assert set(found[288:]) == {Cause.ATTENUATED}


def test_the_first_value_after_a_gap_is_suspect_once_and_all_starts_over() -> None:
    before = every(QUARTER_US, *[20.0] * 150)
    after = every(QUARTER_US, *[60.0] * 50, start_us=before[-1][0] + 6 * HOUR_US + 1)
    assert causes(before + after)[150:] == [Cause.GAP, *[Cause.NONE] * 49]


def test_six_hours_or_twelve_intervals_are_no_gap_yet() -> None:
    for interval_s in (1, 900, 3600):
        limits = limits_of(interval_s)
        gap_us = max(6 * HOUR_US, 12 * interval_s * US_PER_S)
        assert causes([(START_US, 20.0), (START_US + gap_us, 20.0)], limits) == [Cause.NONE, Cause.NONE]
        assert causes([(START_US, 20.0), (START_US + gap_us + 1, 20.0)], limits)[1] is Cause.GAP


# --- what starts all over


def test_nothing_is_compared_over_a_service() -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, *[20.0] * 120))
    follower.one(START_US + 120 * QUARTER_US, 1.0, Cause.SERVICE)
    after = every(QUARTER_US, *[60.0] * 50, start_us=START_US + 121 * QUARTER_US)
    assert {verdict.cause for verdict in follower.all(after)} == {Cause.NONE}


def test_nothing_is_compared_with_the_values_of_another_calibration() -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, *[20.0] * 120))
    verdicts = [follower.one(START_US + n * QUARTER_US, 60.0, label="2026-06-01") for n in range(120, 150)]
    assert {verdict.cause for verdict in verdicts} == {Cause.NONE}


def test_a_clock_that_was_set_back_starts_all_over() -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, *[20.0] * 120))
    assert follower.one(START_US, 60.0) == Verdict(Cause.NONE)
    assert follower.one(START_US + QUARTER_US, 60.0) == Verdict(Cause.NONE)


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause not in MEASURED | {Cause.SERVICE}])
def test_a_reading_that_measured_nothing_is_passed_over(cause: Cause) -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, 30.0, 30.0))
    assert follower.one(START_US + 2 * QUARTER_US, 2.0, cause) == Verdict(Cause.NONE)
    assert follower.one(START_US + 3 * QUARTER_US, 30.0) == Verdict(Cause.NONE)


def test_a_value_above_the_usable_limit_is_followed_and_keeps_its_cause() -> None:
    follower = Follower()
    follower.all(every(QUARTER_US, 30.0, 30.0))
    follower.one(START_US + 2 * QUARTER_US, 90.0, Cause.ABOVE_LIMIT)
    assert follower.one(START_US + 3 * QUARTER_US, 30.0) == Verdict(Cause.NONE), "it is no spike to be told of"
    assert follower.one(START_US + 4 * QUARTER_US, 30.0) == Verdict(Cause.NONE)


# --- laws


walks = st.lists(
    st.tuples(
        st.sampled_from([1, 1, 1, 2, 5, 30]), st.sampled_from([0.0, 0.0, 0.01, -0.01, 0.3, 3.0, 6.0, -6.0, -40.0])
    ),
    min_size=2,
    max_size=120,
)


def walked(walk: list[tuple[int, float]]) -> Samples:
    time_us, kpa, samples = START_US, 30.0, []
    for quarters, move_kpa in walk:
        time_us, kpa = time_us + quarters * QUARTER_US, max(1.0, kpa + move_kpa)
        samples.append((time_us, kpa))
    return samples


@given(walks, st.floats(0.5, 2.0))
def test_a_higher_limit_of_drying_never_finds_more_fast_rises(walk: list[tuple[int, float]], factor: float) -> None:
    """Spikes, which hang on it too, are left out."""
    quiet = replace(LIMITS, spike_kpa=1000.0)
    low, high = sorted((10.0, 10.0 * factor))
    strict, mild = (causes(walked(walk), replace(quiet, rise_kpa_per_h=limit)) for limit in (low, high))
    assert all(one is Cause.RISE_RATE for one, other in zip(strict, mild, strict=True) if other is Cause.RISE_RATE)


@given(walks)
def test_a_spike_lies_beyond_both_its_neighbours(walk: list[tuple[int, float]]) -> None:
    samples = walked(walk)
    for position in spikes(samples):
        before, value, after = (kpa for _, kpa in samples[position - 1 : position + 2])
        assert abs(value - after) > LIMITS.spike_kpa
        assert (value - before) * (after - value) < 0 or position - 1 in spikes(samples)


def test_only_what_lies_within_reach_matters() -> None:
    """A track that starts over with what is within reach goes on as one that knows all: so does a restart."""
    chance = random.Random(7)
    samples = drying(12, start_kpa=20.0)
    values = [
        (us, round(kpa * (n // 300 % 2) + 20.0, 1) + chance.choice((0, 0, 0, 0.01)))
        for n, (us, kpa) in enumerate(samples)
    ]
    whole = Follower().all(values)
    for cut in range(400, len(values), 37):
        oldest_us = values[cut][0] - LIMITS.reach_us
        within = [sample for sample in values if sample[0] >= oldest_us]
        again = Follower().all(within)
        known = len(values) - cut
        assert again[-known:] == whole[-known:]


def test_what_is_remembered_does_not_grow() -> None:
    follower = Follower()
    chance = random.Random(3)
    sizes = set()
    for time_us, kpa in drying(30):
        follower.one(time_us, kpa + chance.uniform(-1, 1))
        sizes.add(len(follower.tracks["one"].ranges.past))
    assert max(sizes) == LIMITS.long_buckets
    assert all(later - earlier in (0, 1) for earlier, later in pairwise(sorted(sizes)))
