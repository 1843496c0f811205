"""Limits of the quality tests."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.quality.limits import BUCKETS, BUCKETS_A_DAY, FLAT_KPA, HOUR_US, Limits, limits_of

DAY_US = 24 * HOUR_US


def test_a_day_is_a_day_and_a_gap_is_six_hours_for_usual_intervals() -> None:
    limits = limits_of(900.0)
    assert limits.bucket_us * limits.flat_buckets == DAY_US
    assert limits.bucket_us * limits.long_buckets == 3 * DAY_US
    assert limits.gap_us == 6 * HOUR_US


@given(st.floats(1.0, 7 * 86_400.0))
def test_twelve_samples_at_least_stand_behind_a_flat_line_and_a_gap(interval_s: float) -> None:
    limits = limits_of(interval_s)
    assert limits.bucket_us * limits.flat_buckets >= round(11.9 * interval_s * 1e6)
    assert limits.gap_us >= round(11.9 * interval_s * 1e6)


@given(st.floats(0.0, 1.0))
def test_a_coarser_converter_is_never_called_flat_for_less(step_kpa: float) -> None:
    """A signal that moves by one step now and then is not flat where the step is as coarse as the limit."""
    limits = limits_of(900.0, step_kpa)
    assert limits.flat_kpa < step_kpa or limits.flat_kpa <= FLAT_KPA
    assert limits.flat_buckets == (BUCKETS if step_kpa > FLAT_KPA / 2 else BUCKETS_A_DAY)
    assert 0.0 <= limits.attenuated_kpa <= limits_of(900.0).attenuated_kpa


def test_the_fastest_drying_can_be_set() -> None:
    assert limits_of(900.0).rise_kpa_per_h == 10.0
    assert limits_of(900.0, rise_kpa_per_h=60.0).rise_kpa_per_h == 60.0


def test_nothing_older_than_the_longest_window_and_a_gap_matters() -> None:
    assert Limits().reach_us == pytest.approx(81 * HOUR_US)
