"""Water comes from above: which of two depths it reaches first tells whether they were exchanged."""

from parchd.diagnosis.front import comes_from_below
from parchd.diagnosis.standing import Fall, Standing
from parchd.testing.diagnosing import instrument


def fallen(*falls: tuple[int, float, float]) -> Standing:
    """A tensiometer that fell: hour, from, to, each within two hours."""
    made = [Fall(begin, high, low, begin + 4, half_hour=begin + 2) for begin, high, low in falls]
    return Standing(instrument("north-30"), falls=made)


BESIDE = fallen((100, 30.0, 4.0), (200, 25.0, 5.0))


def test_the_lower_one_that_is_wetted_alone_when_a_neighbour_of_the_upper_one_is_tells_of_exchange() -> None:
    assert comes_from_below(fallen((110, 12.0, 9.0)), fallen((101, 28.0, 6.0)), BESIDE, 0)


def test_once_from_above_is_enough_to_tell_that_nothing_was_exchanged() -> None:
    upper, lower = fallen((110, 12.0, 9.0), (200, 14.0, 6.0)), fallen((101, 28.0, 6.0))
    assert not comes_from_below(upper, lower, BESIDE, 0)


def test_both_at_once_tell_nothing() -> None:
    assert not comes_from_below(fallen((100, 30.0, 5.0)), fallen((100, 12.0, 5.0)), BESIDE, 0)


def test_what_the_sun_does_to_the_lower_one_tells_nothing() -> None:
    assert not comes_from_below(fallen(), fallen((150, 12.0, 9.0)), BESIDE, 0)


def test_what_was_before_the_days_looked_at_tells_nothing() -> None:
    assert not comes_from_below(fallen(), fallen((101, 28.0, 6.0)), BESIDE, 102)
