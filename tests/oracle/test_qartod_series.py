"""Spike, rate of change, flat line and attenuated signal against ioos_qc, the reference code of IOOS QARTOD.

Vectors are those of its own test suite. On data at even intervals ours must say the same where the tests are the same:
rises only, the "differential" method for spikes, ranges for signals.
"""

import warnings
from collections.abc import Sequence
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its dependencies announce their own deprecations at import
    from ioos_qc.qartod import attenuated_signal_test, flat_line_test, rate_of_change_test, spike_test

from parchd.contract import Cause
from parchd.quality.limits import HOUR_US, Limits
from parchd.quality.spike import is_spike
from parchd.quality.track import Track

QUARTER_S, HOUR_S = 900, 3600
SUSPECT, FAIL = 3, 4
NOTHING = Limits(
    rise_kpa_per_h=inf, shortest_rise_us=0, spike_kpa=inf, bucket_us=QUARTER_S * 10**6, flat_buckets=1, long_buckets=8,
    flat_kpa=0.0, attenuated_kpa=0.0, flat_above_kpa=-inf, attenuated_above_kpa=-inf,
)  # fmt: skip
"""Limits that nothing passes, with a bucket for each sample of a quarter of an hour."""

steps = st.lists(st.sampled_from([20.0, 20.05, 20.1, 20.3, 25.0]), min_size=4, max_size=40)
any_values = st.lists(st.integers(0, 60).map(float), min_size=4, max_size=40)


def limits(**changes: float) -> Limits:
    known = {name: getattr(NOTHING, name) for name in NOTHING.__slots__}
    return Limits(**{**known, **changes})


def judged(of: Limits, values: Sequence[float], interval_s: int) -> tuple[list[Cause], set[int]]:
    """Causes on arrival, and positions of what was shown to be a spike later."""
    interval_us = interval_s * 10**6
    track = Track(of, 0, values[0])
    verdicts = [track.take(of, n * interval_us, value) for n, value in enumerate(values[1:], 1)]
    spikes = {v.spike_us // interval_us for v in verdicts if v.spike_us is not None}
    return [Cause.NONE, *(verdict.cause for verdict in verdicts)], spikes


def positions(causes: Sequence[Cause], cause: Cause) -> list[int]:
    return [n for n, found in enumerate(causes) if found is cause]


def times(values: Sequence[float], interval_s: int) -> np.ndarray:
    return np.datetime64("2026-06-01T00:00:00") + np.arange(len(values)) * np.timedelta64(interval_s, "s")


def at_least(flags: Sequence[int], lowest: int) -> list[int]:
    return [n for n, flag in enumerate(flags) if lowest <= int(flag) <= FAIL]


# --- flat line

FLAT = (1, 2, 2.0001, 2, 2.0001, 2, 2.0001, 2, 4, 5, 3, 3.0001, 3.0005, 3.00001)


@pytest.mark.parametrize(("period_s", "flag"), [(3000, SUSPECT), (4800, FAIL)])
def test_a_flat_line_is_found_where_the_vector_of_the_reference_has_it(period_s: int, flag: int) -> None:
    published = [1, 1, 1, 1, 3, 3, 4, 4, 1, 1, 1, 1, 1, 3]
    ours, _ = judged(limits(flat_kpa=0.01, flat_buckets=period_s // QUARTER_S), FLAT, QUARTER_S)
    assert positions(ours, Cause.FLAT_LINE) == at_least(published, flag)


@given(values=steps, count=st.integers(1, 6), tolerance=st.sampled_from([0.01, 0.08, 0.2, 1.0]))
def test_a_flat_line_is_found_where_the_reference_code_finds_it(
    values: list[float], count: int, tolerance: float
) -> None:
    period_s = count * QUARTER_S
    theirs = flat_line_test(np.array(values), times(values, QUARTER_S), period_s, 10**9, tolerance)
    ours, _ = judged(limits(flat_kpa=tolerance, flat_buckets=count), values, QUARTER_S)
    assert positions(ours, Cause.FLAT_LINE) == at_least(theirs, SUSPECT)


@settings(max_examples=60)
@given(values=st.lists(st.sampled_from([20.0, 20.01, 20.03, 20.3]), min_size=30, max_size=60))
def test_with_buckets_of_three_samples_a_day_lasts_up_to_a_bucket_longer(values: list[float]) -> None:
    """Ours looks back to the begin of a bucket: never less far than the reference code, never a bucket further."""
    wide = limits(flat_kpa=0.05, flat_buckets=4, bucket_us=3 * QUARTER_S * 10**6)
    ours = set(positions(judged(wide, values, QUARTER_S)[0], Cause.FLAT_LINE))
    stamps = times(values, QUARTER_S)
    theirs = [set(at_least(flat_line_test(np.array(values), stamps, n * QUARTER_S, 10**9, 0.05), 3)) for n in (12, 14)]
    assert theirs[1] <= ours <= theirs[0]


# --- attenuated signal


@given(values=steps, count=st.integers(2, 8), least=st.sampled_from([0.06, 0.2, 0.5, 5.0]))
def test_an_attenuated_signal_is_found_where_the_reference_code_finds_it(
    values: list[float], count: int, least: float
) -> None:
    theirs = attenuated_signal_test(
        np.array(values), times(values, QUARTER_S), least, 0.0, test_period=count * QUARTER_S, min_obs=count,
        check_type="range",
    )  # fmt: skip
    ours, _ = judged(limits(attenuated_kpa=least, long_buckets=count - 1), values, QUARTER_S)
    assert positions(ours, Cause.ATTENUATED) == at_least(theirs, SUSPECT)


# --- rate of change

RATE = (2, 10, 2.1, 3, 4, 5, 7, 10, 0, 2)


def test_a_fast_rise_is_found_where_the_vector_of_the_reference_has_it() -> None:
    published = [1, 3, 3, 1, 1, 1, 1, 1, 3, 1]
    rises = [n for n in at_least(published, SUSPECT) if RATE[n] > RATE[n - 1]]
    ours, _ = judged(limits(rise_kpa_per_h=20.0), RATE, QUARTER_S)
    assert positions(ours, Cause.RISE_RATE) == rises == [1]


@given(values=any_values, limit=st.integers(1, 30), interval_s=st.sampled_from([QUARTER_S, HOUR_S, 6 * HOUR_S]))
def test_a_fast_rise_is_found_where_the_reference_code_finds_it_and_no_fall(
    values: list[float], limit: int, interval_s: int
) -> None:
    theirs = at_least(rate_of_change_test(np.array(values), times(values, interval_s), limit / HOUR_S), SUSPECT)
    ours, _ = judged(limits(rise_kpa_per_h=float(limit)), values, interval_s)
    assert positions(ours, Cause.RISE_RATE) == [n for n in theirs if values[n] > values[n - 1]]


# --- spike

SPIKES = (3, 4.99, 5, 6, 8, 6, 6, 6.75, 6, 6, 5.3, 6, 6, 9, 5, None, 4, 4)
PUBLISHED_SPIKES = (2, 1, 1, 1, 4, 1, 1, 3, 1, 1, 3, 1, 1, 4, 2, 9, 2, 2)


@pytest.mark.parametrize(("threshold", "flag"), [(0.5, SUSPECT), (1.0, FAIL)])
def test_a_spike_is_found_where_the_vector_of_the_reference_has_it(threshold: float, flag: int) -> None:
    found = []
    for n, (before, value, after) in enumerate(zip(SPIKES, SPIKES[1:], SPIKES[2:], strict=False), 1):
        if before is None or value is None or after is None:
            continue  # a neighbour is missing
        if is_spike(limits(spike_kpa=threshold, rise_kpa_per_h=0.0), before, value, after, HOUR_US):
            found.append(n)
    assert found == at_least(PUBLISHED_SPIKES, flag)


@given(values=any_values, threshold=st.integers(1, 20))
def test_a_value_between_two_is_a_spike_where_the_reference_code_says_so(values: list[float], threshold: int) -> None:
    theirs = spike_test(np.array(values), threshold, 10**9, method="differential")
    of = limits(spike_kpa=float(threshold), rise_kpa_per_h=0.0)
    triples = enumerate(zip(values, values[1:], values[2:], strict=False), 1)
    ours = [n for n, (before, value, after) in triples if is_spike(of, before, value, after, HOUR_US)]
    assert ours == at_least(theirs, SUSPECT)


@given(
    gaps=st.lists(st.integers(2, 6), min_size=1, max_size=6),
    heights=st.lists(st.sampled_from([-15.0, -6.0, 6.0, 15.0]), min_size=6, max_size=6),
)
def test_spikes_that_stand_apart_are_told_one_sample_later_where_the_reference_code_finds_them(
    gaps: list[int], heights: list[float]
) -> None:
    values = [30.0]
    for gap, height in zip(gaps, heights, strict=False):
        values += [30.0 + 0.1 * n for n in range(gap)] + [30.0 + height]
    values += [30.0, 30.0]
    theirs = spike_test(np.array(values), 5.0, 10**9, method="differential")
    _, ours = judged(limits(spike_kpa=5.0, rise_kpa_per_h=10.0), values, QUARTER_S)
    assert sorted(ours) == at_least(theirs, SUSPECT)
