"""Flags and causes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, worst

flags = st.sampled_from(Flag)


def test_the_numbers_of_flags_are_those_of_qartod() -> None:
    """UNESCO/IOC Manuals and Guides 54, vol. 3 (2013): 1 pass, 2 not evaluated, 3 suspect, 4 fail, 9 missing."""
    assert {flag.word: flag.value for flag in Flag} == {
        "pass": 1, "not evaluated": 2, "suspect": 3, "fail": 4, "missing": 9,
    }  # fmt: skip


def test_only_a_reading_that_was_not_doubted_decides() -> None:
    assert [flag for flag in Flag if flag.decides] == [Flag.PASS, Flag.NOT_EVALUATED]


@given(st.lists(flags, min_size=1))
def test_the_order_of_flags_does_not_matter(several: list[Flag]) -> None:
    assert worst(several) is worst(reversed(several))


@given(st.lists(flags, min_size=1), st.lists(flags, min_size=1))
def test_flags_may_be_combined_in_parts(some: list[Flag], others: list[Flag]) -> None:
    assert worst([worst(some), worst(others)]) is worst(some + others)


@given(flags)
def test_a_flag_combined_with_itself_stays(flag: Flag) -> None:
    assert worst([flag, flag]) is flag


def test_no_flag_at_all_is_not_evaluated() -> None:
    assert worst([]) is Flag.NOT_EVALUATED


@pytest.mark.parametrize("cause", [cause for cause in Cause if cause is not Cause.NONE])
def test_every_cause_can_be_said_in_words(cause: Cause) -> None:
    assert cause.word
    assert cause.word not in {other.word for other in Cause if other is not cause}


def test_the_numbers_of_causes_never_change() -> None:
    """They are stored: a cause may be added, but none may get another number."""
    assert [cause.name for cause in Cause] == [
        "NONE", "NO_VALUE", "OPEN_CIRCUIT", "SHORT_CIRCUIT", "SATURATED", "UNDER_RANGE", "OVER_RANGE", "NO_SUPPLY",
        "BELOW_PHYSICAL", "ABOVE_PHYSICAL", "ABOVE_LIMIT", "CLOCK", "UNIT", "TIME_UNKNOWN",
        "STATUS", "NO_BAROMETER", "SERVICE", "SPIKE", "RISE_RATE", "FLAT_LINE", "ATTENUATED", "GAP", "DOUBTED",
        "CONDEMNED",
    ]  # fmt: skip
    assert [cause.value for cause in Cause] == list(range(len(Cause)))
