"""Summing up one hour."""

import math

import pytest

from parchd.clock import US_PER_S
from parchd.contract import Cause, Reading, Sample, Unit
from parchd.diagnosis.opening import NO_CARRY, Carry, OpenHour
from parchd.physics.causes import flag_of

MINUTE_US = 60 * US_PER_S


def reading(minute: int, tension_kpa: float | None, cause: Cause = Cause.NONE, lag_s: float = 1.0) -> Reading:
    time_us = (10_000_000 + minute) * MINUTE_US
    sample = Sample("a", time_us, tension_kpa if tension_kpa is not None else 0.0, Unit.KPA)
    received_us = time_us + round(lag_s * US_PER_S)
    return Reading(sample, "bus/a", received_us, None, tension_kpa, flag_of(cause), cause, late=False)


def opened(readings: list[Reading], before: Carry = NO_CARRY) -> OpenHour:
    hour = OpenHour(2.5 * MINUTE_US, before)
    for one in readings:
        hour.take(one, one.sample.time_us)
    return hour


def test_an_hour_knows_its_mean_its_ends_and_its_last_value() -> None:
    hour = opened([reading(0, 10.0), reading(1, 14.0), reading(2, 12.0)]).close()

    assert (hour.mean_kpa, hour.low_kpa, hour.high_kpa, hour.last_kpa, hour.good) == (12.0, 10.0, 14.0, 12.0, 3.0)
    assert hour.rough_kpa == pytest.approx(6.0)  # |12 - 2 * 14 + 10|


def test_an_hour_without_a_value_is_not_known() -> None:
    hour = opened([]).close()

    assert math.isnan(hour.mean_kpa)
    assert math.isnan(hour.still_s)
    assert (hour.good, hour.bad, hour.cause) == (0.0, 0.0, 0.0)


def test_what_cannot_be_a_measurement_is_counted_by_its_cause() -> None:
    hour = opened([reading(0, None, Cause.OPEN_CIRCUIT), reading(1, None, Cause.OPEN_CIRCUIT), reading(2, 9.0)]).close()

    assert (hour.good, hour.bad, hour.cause) == (1.0, 2.0, float(Cause.OPEN_CIRCUIT))


@pytest.mark.parametrize("cause", [Cause.SERVICE, Cause.NO_VALUE])
def test_readings_while_somebody_works_on_it_count_for_nothing(cause: Cause) -> None:
    assert str(opened([reading(0, 3.0, cause)]).close()) == str(opened([]).close())


def test_readings_of_a_condemned_tensiometer_are_still_looked_at() -> None:
    assert opened([reading(0, 3.0, Cause.CONDEMNED), reading(1, 3.0, Cause.DOUBTED)]).close().good == 2.0


def test_stillness_and_noise_go_on_from_hour_to_hour() -> None:
    values = [10.0, 10.0, 11.0, 11.0, 11.0, 12.5, 12.5, 12.5]
    whole = opened([reading(number, value) for number, value in enumerate(values)])
    first = opened([reading(number, value) for number, value in enumerate(values[:4])])
    second = opened([reading(number + 4, value) for number, value in enumerate(values[4:])], first.carry)

    assert second.carry == whole.carry
    assert second.close().still_s == whole.close().still_s == 120.0
    total = first.close().rough_kpa * 2 + second.close().rough_kpa * 4
    assert total / 6 == pytest.approx(whole.close().rough_kpa)


def test_one_sample_apart_from_its_neighbours_is_a_dip_and_a_step_is_none() -> None:
    assert [dip.kpa for dip in opened([reading(i, v) for i, v in enumerate([20.0, 20.0, 12.0, 20.0])]).dips] == [-8.0]
    assert opened([reading(i, v) for i, v in enumerate([20.0, 20.0, 12.0, 12.0, 12.0])]).dips == []


def test_noise_is_not_reckoned_across_a_gap() -> None:
    assert math.isnan(opened([reading(0, 10.0), reading(1, 20.0), reading(30, 10.0)]).close().rough_kpa)


def test_the_least_lag_is_kept() -> None:
    assert opened([reading(0, 1.0, lag_s=90.0), reading(1, 1.0, lag_s=3.0)]).close().lag_s == 3.0
