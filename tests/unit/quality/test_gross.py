"""Gross range."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Flag
from parchd.physics.causes import flag_of
from parchd.quality.gross import gross_range

LOWEST, HIGHEST, USABLE = -15.0, 99.0, 80.0


@pytest.mark.parametrize(
    ("tension_kpa", "cause"),
    [
        (math.nextafter(LOWEST, -math.inf), Cause.BELOW_PHYSICAL),
        (LOWEST, Cause.NONE),
        (0.0, Cause.NONE),
        (USABLE, Cause.NONE),
        (math.nextafter(USABLE, math.inf), Cause.ABOVE_LIMIT),
        (HIGHEST, Cause.ABOVE_LIMIT),
        (math.nextafter(HIGHEST, math.inf), Cause.ABOVE_PHYSICAL),
    ],
)
def test_a_bound_itself_passes(tension_kpa: float, cause: Cause) -> None:
    assert gross_range(tension_kpa, LOWEST, HIGHEST, USABLE) is cause


def test_a_usable_limit_above_what_is_possible_leaves_nothing_suspect() -> None:
    assert gross_range(105.0, LOWEST, 99.0, 110.0) is Cause.NONE
    assert gross_range(111.0, LOWEST, 99.0, 110.0) is Cause.ABOVE_PHYSICAL


@given(st.floats(-200, 200), st.floats(-200, 200))
def test_a_drier_value_is_never_judged_wetter(one_kpa: float, other_kpa: float) -> None:
    order = [Cause.BELOW_PHYSICAL, Cause.NONE, Cause.ABOVE_LIMIT, Cause.ABOVE_PHYSICAL]
    wetter, drier = sorted((one_kpa, other_kpa))
    causes = [gross_range(tension, LOWEST, HIGHEST, USABLE) for tension in (wetter, drier)]
    assert order.index(causes[0]) <= order.index(causes[1])


def test_impossible_values_fail_and_those_beyond_the_limit_are_suspect() -> None:
    causes = [gross_range(tension, LOWEST, HIGHEST, USABLE) for tension in (-20.0, 90.0, 120.0)]
    assert [flag_of(cause) for cause in causes] == [Flag.FAIL, Flag.SUSPECT, Flag.FAIL]
