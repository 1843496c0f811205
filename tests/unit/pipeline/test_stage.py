"""From batches to flagged readings: order, auxiliaries, doubtful times."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.clock import US_PER_S
from parchd.contract import Cause, Flag, Reading, Sample, SampleBatch, TimeSource, Unit
from parchd.pipeline.setup import PipelineSetup
from parchd.pipeline.stage import AUXILIARY_MAX_AGE_US, FUTURE_TOLERANCE_US, PipelineState, compile_pipeline, process
from parchd.testing.site import MINUTE_US, SITE, START_US, batch, sample, small_site, tensiometer

PLAN = compile_pipeline(small_site()[0])
CHANNELS = ("n20", "n40", "c30", "vs", "temp", "spare")
UNIT_OF: Mapping[str, Unit] = {"c30": Unit.V, "vs": Unit.V, "temp": Unit.CELSIUS, "spare": Unit.MV}


def run(
    *batches: SampleBatch, received_us: int | None = None, clock_trusted: bool = True
) -> tuple[PipelineState, list[Reading]]:
    """Process batches one after another; each is received at the time of its last sample unless told otherwise."""
    state, readings = PipelineState(), []
    for taken in batches:
        now_us = taken.samples[-1].time_us if received_us is None else received_us
        state, found = process(PLAN, state, taken, now_us, clock_trusted=clock_trusted)
        readings += found
    return state, readings


def volts(channel: str, time_us: int, value: float | None) -> Sample:
    return sample(channel, time_us, value, Unit.V)


def test_a_sample_becomes_one_reading_that_keeps_it_unchanged() -> None:
    taken = sample("n20", START_US, 33.0)
    _, (reading,) = run(batch(taken), received_us=START_US + 5)
    assert replace(reading, uncertainty_kpa=None) == Reading(
        taken, "bus1/n20", START_US + 5, -33.0, 33.0, Flag.PASS, Cause.NONE, late=False
    )
    assert reading.uncertainty_kpa is not None


def test_a_channel_that_nobody_named_is_kept_and_not_evaluated() -> None:
    _, (reading,) = run(batch(sample("spare", START_US, 7.0, Unit.MV)))
    assert (reading.channel, reading.flag, reading.cause, reading.late) == (
        "bus1/spare", Flag.NOT_EVALUATED, Cause.NONE, False,
    )  # fmt: skip
    assert (reading.gauge_kpa, reading.tension_kpa) == (None, None)


def test_a_channel_of_another_source_is_another_channel() -> None:
    stranger = SampleBatch("bus2", (sample("n20", START_US, 33.0),))
    _, (reading,) = run(stranger)
    assert (reading.channel, reading.tension_kpa) == ("bus2/n20", None)


@pytest.mark.parametrize("channel", ["n20", "vs", "spare"])
def test_a_device_that_says_it_has_no_value_makes_a_missing_reading(channel: str) -> None:
    _, (reading,) = run(batch(sample(channel, START_US, None)))
    assert (reading.flag, reading.cause, reading.tension_kpa) == (Flag.MISSING, Cause.NO_VALUE, None)


@pytest.mark.parametrize(
    ("value", "unit", "flag", "cause"),
    [
        (0.1, Unit.V, Flag.FAIL, Cause.OPEN_CIRCUIT),
        (4.9, Unit.V, Flag.FAIL, Cause.SHORT_CIRCUIT),
        (2.5, Unit.MA, Flag.FAIL, Cause.UNIT),
        (4.6, Unit.V, Flag.SUSPECT, Cause.ABOVE_LIMIT),
    ],
)
def test_the_flag_follows_from_the_cause(value: float, unit: Unit, flag: Flag, cause: Cause) -> None:
    _, readings = run(batch(volts("vs", START_US, 5.0), sample("c30", START_US, value, unit)))
    assert (readings[1].flag, readings[1].cause) == (flag, cause)


def test_the_supply_counts_even_when_it_stands_last_on_the_line() -> None:
    _, readings = run(batch(volts("c30", START_US, 2.375), volts("vs", START_US, 4.75)))
    found = {reading.channel: reading.gauge_kpa for reading in readings}
    assert found["bus1/c30"] == pytest.approx(-50.0)


def test_the_supply_may_come_in_millivolts() -> None:
    _, readings = run(batch(sample("vs", START_US, 4750.0, Unit.MV), volts("c30", START_US, 2.375)))
    assert readings[1].gauge_kpa == pytest.approx(-50.0)


def test_the_temperature_channel_sets_the_weight_of_the_water() -> None:
    """0.60 m of water: 5.8838 kPa at 4 C, 5.8382 kPa at 40 C."""
    tensions = []
    for water_c in (4.0, 40.0):
        warm = sample("temp", START_US, water_c, Unit.CELSIUS)
        _, readings = run(batch(volts("vs", START_US, 5.0), warm, volts("c30", START_US, 2.5)))
        tensions.append(readings[2].tension_kpa)
    assert tensions == pytest.approx([50.0 - 5.8838, 50.0 - 5.8382], abs=1e-4)


@pytest.mark.parametrize(("age_us", "flag"), [(AUXILIARY_MAX_AGE_US, Flag.PASS), (AUXILIARY_MAX_AGE_US + 1, Flag.FAIL)])
def test_a_supply_measured_too_long_ago_is_not_used(age_us: int, flag: Flag) -> None:
    _, readings = run(batch(volts("vs", START_US, 5.0)), batch(volts("c30", START_US + age_us, 2.5)))
    assert readings[1].flag is flag
    assert readings[1].cause is (Cause.NONE if flag is Flag.PASS else Cause.NO_SUPPLY)


def test_a_temperature_measured_too_long_ago_gives_way_to_the_set_one() -> None:
    cold = sample("temp", START_US, 4.0, Unit.CELSIUS)
    later_us = START_US + AUXILIARY_MAX_AGE_US + 1
    _, readings = run(batch(cold), batch(volts("vs", later_us, 5.0), volts("c30", later_us, 2.5)))
    assert readings[2].tension_kpa == pytest.approx(50.0 - 5.8734, abs=1e-4)


def test_a_supply_that_is_missing_now_is_not_replaced_by_an_older_one() -> None:
    minute_us = START_US + MINUTE_US
    _, readings = run(
        batch(volts("vs", START_US, 5.0)), batch(volts("vs", minute_us, None), volts("c30", minute_us, 2.5))
    )
    assert readings[2].cause is Cause.NO_SUPPLY


def test_a_late_supply_does_not_replace_the_newest() -> None:
    _, readings = run(
        batch(volts("vs", START_US, 4.75)),
        batch(volts("vs", START_US - MINUTE_US, 5.0)),
        batch(volts("c30", START_US, 2.375)),
    )
    assert readings[2].gauge_kpa == pytest.approx(-50.0)


def test_one_channel_may_be_a_tensiometer_and_the_supply_of_another() -> None:
    direct = tensiometer("north-20", "a")
    other = replace(
        tensiometer("creek-30", "b"), supply_channel="bus1/a", transducer=small_site()[0].tensiometers[3].transducer
    )
    plan = compile_pipeline(PipelineSetup(SITE, (other, direct)))
    both = batch(volts("b", START_US, 2.5), volts("a", START_US, 5.0))
    _, readings = process(plan, PipelineState(), both, START_US, clock_trusted=True)
    found = {reading.channel: reading.tension_kpa for reading in readings}
    assert found == {"bus1/a": None, "bus1/b": pytest.approx(50.0)}  # volts are no pressure


def test_a_repeated_or_older_sample_is_late_and_still_converted() -> None:
    first, second = sample("n20", START_US, 30.0), sample("n20", START_US + MINUTE_US, 31.0)
    _, readings = run(batch(first), batch(second), batch(first), batch(second))
    assert [(r.late, r.flag, r.tension_kpa) for r in readings] == [
        (False, Flag.PASS, 30.0), (False, Flag.PASS, 31.0), (True, Flag.PASS, 30.0), (True, Flag.PASS, 31.0),
    ]  # fmt: skip


def test_channels_are_late_each_on_its_own() -> None:
    _, readings = run(batch(sample("n20", START_US, 1.0)), batch(sample("n40", START_US - MINUTE_US, 1.0)))
    assert not readings[1].late


@pytest.mark.parametrize(("ahead_us", "late"), [(FUTURE_TOLERANCE_US, False), (FUTURE_TOLERANCE_US + 1, True)])
def test_a_sample_from_more_than_ten_minutes_ahead_is_not_believed(ahead_us: int, late: bool) -> None:
    assert FUTURE_TOLERANCE_US == 600 * US_PER_S
    _, (reading,) = run(batch(sample("n20", START_US + ahead_us, 30.0)), received_us=START_US)
    assert (reading.late, reading.cause) == (late, Cause.CLOCK if late else Cause.NONE)
    assert reading.tension_kpa == 30.0


def test_a_doubtful_time_does_not_make_what_comes_after_it_late() -> None:
    future = sample("n20", START_US + 60 * MINUTE_US, 30.0)
    unknown = sample("n20", START_US + MINUTE_US, 30.0, time_source=TimeSource.UNKNOWN)
    good = sample("n20", START_US, 30.0)
    _, readings = run(batch(future), batch(unknown), batch(good), received_us=START_US)
    assert [reading.late for reading in readings] == [True, True, False]


def test_a_sample_of_unknown_time_is_kept_as_late_and_not_evaluated() -> None:
    _, (reading,) = run(batch(sample("n20", START_US, 30.0, time_source=TimeSource.UNKNOWN)))
    assert (reading.late, reading.cause, reading.flag) == (True, Cause.TIME_UNKNOWN, Flag.NOT_EVALUATED)


@pytest.mark.parametrize(("time_source", "late"), [(TimeSource.ARRIVAL, True), (TimeSource.DEVICE, False)])
def test_a_clock_that_cannot_be_trusted_spoils_arrival_times_only(time_source: TimeSource, late: bool) -> None:
    _, (reading,) = run(batch(sample("n20", START_US, 30.0, time_source=time_source)), clock_trusted=False)
    assert (reading.late, reading.flag) == (late, Flag.SUSPECT if late else Flag.PASS)


def test_a_fault_is_named_before_a_doubtful_time() -> None:
    unknown = sample("n20", START_US, 120.0, time_source=TimeSource.UNKNOWN)
    _, (reading,) = run(batch(unknown))
    assert (reading.cause, reading.flag, reading.late) == (Cause.ABOVE_PHYSICAL, Flag.FAIL, True)


def test_samples_of_one_batch_are_taken_in_the_order_of_time() -> None:
    newest_first = batch(*(sample("n20", START_US + n * MINUTE_US, 30.0) for n in (2, 0, 1)))
    state, readings = run(newest_first, received_us=START_US + 2 * MINUTE_US)
    assert [reading.late for reading in readings] == [False, False, False]
    assert state.newest_us["bus1/n20"] == START_US + 2 * MINUTE_US


def test_no_sample_is_dropped_and_none_invented() -> None:
    samples = [sample(channel, START_US + n, 1.0) for n, channel in enumerate(CHANNELS)]
    _, readings = run(batch(*samples, *samples))
    assert len(readings) == 2 * len(samples)
    assert {reading.sample for reading in readings} == set(samples)


@st.composite
def streams(draw: st.DrawFn) -> list[list[Sample]]:
    """Lines in the order of time, each with some fields in any order."""
    lines = []
    for n in range(draw(st.integers(1, 8))):
        channels = draw(st.lists(st.sampled_from(CHANNELS), min_size=1, max_size=4))
        time_us = START_US + n * draw(st.sampled_from([1, 40 * MINUTE_US])) + n
        value = st.none() | st.floats(0.3, 5.0)
        source = st.sampled_from(TimeSource)
        lines.append([Sample(c, time_us, draw(value), UNIT_OF.get(c, Unit.KPA), draw(source)) for c in channels])
    return sorted(lines, key=lambda fields: fields[0].time_us)


@settings(max_examples=150)
@given(streams(), st.data(), st.booleans())
def test_cutting_a_batch_between_two_lines_changes_nothing(
    lines: list[list[Sample]], data: st.DataObject, clock_trusted: bool
) -> None:
    cuts = sorted(data.draw(st.sets(st.integers(1, len(lines)))) | {0, len(lines)})
    parts = [lines[start:end] for start, end in pairwise(cuts)]
    received_us = lines[-1][0].time_us
    whole = run(batch(*(s for fields in lines for s in fields)), received_us=received_us, clock_trusted=clock_trusted)
    cut = run(
        *(batch(*(s for fields in part for s in fields)) for part in parts),
        received_us=received_us, clock_trusted=clock_trusted,
    )  # fmt: skip
    assert whole == cut


def test_what_a_gateway_catches_up_with_is_converted_and_judges_nothing() -> None:
    old_us = START_US - 26 * 3600 * US_PER_S
    _, readings = run(
        batch(sample("n20", old_us, 33.0)), batch(sample("n20", START_US, 34.0)), received_us=START_US + US_PER_S
    )
    assert [(reading.late, reading.flag) for reading in readings] == [(True, Flag.PASS), (False, Flag.PASS)]
    assert [reading.tension_kpa for reading in readings] == pytest.approx([33.0, 34.0])


def test_a_supply_that_was_caught_up_with_still_serves_the_line_it_stands_on() -> None:
    old_us = START_US - 26 * 3600 * US_PER_S
    _, readings = run(batch(volts("c30", old_us, 2.5), volts("vs", old_us, 5.0)), received_us=START_US)
    assert {reading.channel.partition("/")[2]: (reading.late, reading.cause) for reading in readings} == {
        "vs": (True, Cause.NONE),
        "c30": (True, Cause.NONE),
    }


def test_a_record_that_is_replayed_is_judged_as_if_it_were_new() -> None:
    old_us = START_US - 300 * 86_400 * US_PER_S
    taken = replace(batch(sample("n20", old_us, 33.0)), replayed=True)
    _, (reading,) = run(taken, received_us=START_US)
    assert not reading.late
