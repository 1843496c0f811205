"""Readings in the order in which they arrive."""

from dataclasses import fields

import numpy as np
import pytest

from parchd.contract import Cause, Reading, Sample, TimeSource, Unit
from parchd.diagnosis.hours import HOUR_US
from parchd.evaluation.arrivals import LightReading, LightSample, Turn, turns
from parchd.simulator.convert import Columns

UNITS = {"bus/b": Unit.V, "bus/a": Unit.V, "bus/t": Unit.CELSIUS}


def columns(times_us: list[int], received_us: list[int] | None = None, tension_kpa: float = 20.0) -> Columns:
    size = len(times_us)
    return Columns(
        np.array(times_us, dtype=np.int64), np.array(received_us or times_us, dtype=np.int64), np.full(size, 2.5),
        np.full(size, -tension_kpa), np.full(size, tension_kpa), np.zeros(size, dtype=np.uint8),
    )  # fmt: skip


def cut(end_us: int = HOUR_US, **given: Columns) -> list[Turn]:
    named = {f"bus/{name}": column for name, column in given.items()}
    return list(turns(named, UNITS, frozenset(("bus/t",)), 0, end_us))


def read(made: list[Turn]) -> list[tuple[str, int]]:
    return [(one.channel, one.sample.time_us) for turn in made for one in turn.readings]


def test_readings_come_by_arrival_then_by_measurement_then_auxiliaries_first() -> None:
    made = cut(b=columns([5, 1], [9, 9]), a=columns([1, 7], [9, 8]), t=columns([1], [9]))
    assert read(made) == [("bus/a", 7), ("bus/t", 1), ("bus/a", 1), ("bus/b", 1), ("bus/b", 5)]


def test_there_is_a_turn_for_every_hour_also_for_silent_ones() -> None:
    made = cut(4 * HOUR_US, a=columns([10, 2 * HOUR_US + 1]))
    assert [turn.end_us // HOUR_US for turn in made] == [1, 2, 3, 4, 5]
    assert [len(list(turn.readings)) for turn in made] == [1, 0, 1, 0, 0]
    assert made[2].heard_us == {"bus/a": 2 * HOUR_US + 1}


def test_what_arrives_after_the_end_is_not_lost() -> None:
    assert read(cut(HOUR_US, a=columns([10], [9 * HOUR_US]))) == [("bus/a", 10)]


def test_a_season_without_any_sample_has_turns_all_the_same() -> None:
    assert [list(turn.readings) for turn in cut(HOUR_US)] == [[], []]


def test_what_is_not_a_number_is_none() -> None:
    (one,) = next(iter(cut(a=columns([1], tension_kpa=np.nan)))).readings
    assert one.tension_kpa is None
    assert one.gauge_kpa is None
    assert one.sample.value == 2.5


@pytest.mark.parametrize(("ahead_s", "cause"), [(600, Cause.NONE), (601, Cause.CLOCK)])
def test_a_time_from_the_future_cannot_be_believed(ahead_s: int, cause: Cause) -> None:
    (one,) = next(iter(cut(a=columns([ahead_s * 1_000_000], [0])))).readings
    assert one.cause is cause


def test_light_readings_have_only_what_real_ones_have_under_the_same_names() -> None:
    assert set(LightReading._fields) <= {one.name for one in fields(Reading)}
    assert set(LightSample._fields) == {one.name for one in fields(Sample)}
    (one,) = next(iter(cut(a=columns([1])))).readings
    sample: object = one.sample
    assert sample == LightSample("a", 1, 2.5, Unit.V, TimeSource.DEVICE)
