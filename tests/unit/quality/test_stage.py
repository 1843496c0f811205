"""The stage that tests readings: what it passes on, and that cutting changes nothing."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, Reading
from parchd.physics.causes import flag_of
from parchd.quality.limits import limits_of
from parchd.quality.stage import Revised, check
from parchd.quality.track import Track
from parchd.testing.site import MINUTE_US, START_US, reading

LIMITS = {"bus1/n20": limits_of(600.0), "bus1/n40": limits_of(600.0)}
HARDER = (Cause.ABOVE_LIMIT, Cause.OPEN_CIRCUIT, Cause.SERVICE, Cause.CLOCK, Cause.NO_VALUE)


def at(minute: int, kpa: float | None, cause: Cause = Cause.NONE, channel: str = "bus1/n20") -> Reading:
    return reading(channel, START_US + minute * MINUTE_US, kpa, flag_of(cause), cause)


def judged(*readings: Reading) -> tuple[list[Cause], list[Revised]]:
    found, revised = check(LIMITS, {}, readings)
    assert all(one.flag is flag_of(one.cause) for one in found)
    return [one.cause for one in found], revised


def test_a_reading_that_is_odd_is_suspect_and_keeps_all_else() -> None:
    readings = [at(0, 20.0), at(15, 40.0)]
    found, revised = check(LIMITS, {}, readings)
    assert found == [readings[0], replace(readings[1], cause=Cause.RISE_RATE, flag=Flag.SUSPECT)]
    assert revised == []


@pytest.mark.parametrize("cause", HARDER)
def test_a_cause_that_is_there_already_stays(cause: Cause) -> None:
    kpa = None if cause in (Cause.OPEN_CIRCUIT, Cause.NO_VALUE) else 84.0
    assert judged(at(0, 20.0), at(15, kpa, cause))[0] == [Cause.NONE, cause]


def test_a_spike_is_told_with_the_reading_that_shows_it_even_if_both_come_together() -> None:
    causes, revised = judged(at(0, 30.0), at(15, 30.0), at(30, 2.0), at(45, 30.0))
    assert causes == [Cause.NONE] * 4
    assert revised == [Revised("bus1/n20", START_US + 30 * MINUTE_US, Cause.SPIKE)]


def test_a_reading_that_has_another_cause_is_not_told_to_be_a_spike() -> None:
    assert judged(at(0, 30.0), at(15, 30.0), at(30, 90.0, Cause.ABOVE_LIMIT), at(45, 30.0))[1] == []


def test_late_readings_are_passed_over() -> None:
    late = replace(at(10, 70.0), late=True)
    found, revised = check(LIMITS, {}, [at(0, 30.0), at(15, 30.0), late, at(30, 30.0)])
    assert (found[2], [one.cause for one in found], revised) == (late, [Cause.NONE] * 4, [])


def test_channels_without_limits_are_passed_on() -> None:
    readings = [at(n * 15, kpa, channel="bus1/vs") for n, kpa in enumerate((5.0, 60.0, 5.0))]
    tracks: dict[str, Track] = {}
    assert check(LIMITS, tracks, readings) == (readings, [])
    assert tracks == {}


readings_of_two = st.lists(
    st.tuples(
        st.sampled_from(["bus1/n20", "bus1/n40", "bus1/vs"]),
        st.sampled_from([10, 10, 20, 500, -15]),
        st.sampled_from([2.0, 29.9, 30.0, 30.0, 30.01, 38.0, 60.0]),
        st.sampled_from([Cause.NONE] * 6 + [*HARDER]),
        st.booleans(),
    ),
    max_size=40,
)


@given(readings_of_two, st.lists(st.integers(1, 8), max_size=40))
def test_cutting_readings_anywhere_changes_nothing(
    drawn: list[tuple[str, int, float, Cause, bool]], cuts: list[int]
) -> None:
    minute, readings = 0, []
    for channel, minutes, kpa, cause, on_time in drawn:
        minute += minutes
        readings.append(replace(at(minute, kpa, cause, channel), late=not on_time and minutes < 0))
    whole = check(LIMITS, {}, readings)
    tracks: dict[str, Track] = {}
    found: list[Reading] = []
    revised: list[Revised] = []
    for size in [*cuts, len(readings)]:
        some, readings = readings[:size], readings[size:]
        more = check(LIMITS, tracks, some)
        found, revised = found + more[0], revised + more[1]
    assert (found, revised) == whole
