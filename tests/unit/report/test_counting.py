"""Windows of time against counting by brute force, quantiles against another library."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.report.counting import floods, most_within, quantile

SECONDS = st.lists(st.integers(0, 4000), max_size=60).map(sorted)


def us(seconds: list[int]) -> list[int]:
    return [second * US_PER_S for second in seconds]


def young(seconds: list[int], now: int, span: int) -> int:
    """How many came within the last so many seconds, this one included."""
    return sum(now - span < second <= now for second in seconds)


@given(SECONDS, st.integers(1, 900))
def test_the_most_within_a_span_is_what_counting_at_every_second_gives(seconds: list[int], span: int) -> None:
    assert most_within(us(seconds), span) == max((young(seconds, now, span) for now in seconds), default=0)


@given(SECONDS)
def test_floods_are_what_walking_second_by_second_gives(seconds: list[int]) -> None:
    begins, ends, span = 6, 3, 300
    expected: list[tuple[int, int, int]] = []
    first: int | None = None
    for now in range(4000 + span + 2):
        count = young(seconds, now, span)
        if first is None and count > begins:
            first = min(second for second in seconds if now - span < second <= now)
        elif first is not None and count < ends:
            expected.append((first, now, sum(first <= second < now for second in seconds)))
            first = None
    found = [
        (flood.start_us // US_PER_S, flood.end_us // US_PER_S, flood.alarms)
        for flood in floods(us(seconds), begins, ends, span)
    ]
    assert found == expected


@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=50).map(sorted), st.sampled_from([0.1, 0.5, 0.9]))
def test_a_quantile_is_that_of_an_independent_library(numbers: list[float], share: float) -> None:
    assert quantile(numbers, share) == pytest.approx(float(np.quantile(numbers, share, method="inverted_cdf")))
