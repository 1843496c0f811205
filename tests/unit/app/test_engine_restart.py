"""The same messages with the same times give the same database, and a power cut in between changes nothing."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from parchd.alarms.rules import Delays
from parchd.app.messages import Delivery, Message, Outcome, Post, SinkProgress, Tick
from parchd.contract import Notice, NoticeKind, Sample, SampleBatch, TimeSource, Unit
from parchd.store.cursors import Cursor
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import MINUTE_US, START_US, batch, engine_setup_of, line, route, small_site

SETUP = engine_setup_of(
    small_site(tensiometers=("north-20", "north-40"), delays=Delays(on_s=60, on_count=2, off_count=2), fresh_s=7200.0),
    [route("mail", "anne", "ben", max_per_hour=3), route("hook", max_per_hour=1)],
)
UNIT = {"vs": Unit.V, "c30": Unit.V, "temp": Unit.CELSIUS}

PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
"""Each example is a whole daemon's life: on a slow machine that takes a while."""

Story = list[tuple[int, Message]]

LEVELS = [20.0, 34.0, 45.0, 61.0, 70.0, 70.0]
ODD = [None, 0.1, 90.0, 90.0, 120.0, -30.0]

channels = st.sampled_from(["n20", "n20", "n20", "n40", "n60", "c30", "vs", "temp", "spare"])
values = st.one_of(
    st.sampled_from(LEVELS), st.sampled_from(LEVELS), st.sampled_from([2.5, 4.9, 5.0]), st.sampled_from(ODD)
)
sources = st.sampled_from([TimeSource.DEVICE] * 5 + [TimeSource.UNKNOWN])
offsets_us = st.sampled_from([0] * 6 + [-5 * MINUTE_US, 60 * MINUTE_US])


@st.composite
def batches(draw: st.DrawFn, now_us: int) -> SampleBatch:
    fields = draw(st.lists(st.tuples(channels, values, sources, offsets_us), min_size=1, max_size=5))
    return batch(*(Sample(c, now_us + off, value, UNIT.get(c, Unit.KPA), source) for c, value, source, off in fields))


@st.composite
def stories(draw: st.DrawFn, *, ticks: bool) -> Story:
    """Messages in the order of time, a few minutes apart."""
    story: Story = []
    now_us = START_US
    for n in range(draw(st.integers(8, 25))):
        now_us += draw(st.sampled_from([1, 3, 11])) * MINUTE_US
        kinds = [
            batches(now_us), batches(now_us), batches(now_us),
            st.builds(Post, st.just(Notice(f"t.{n}", NoticeKind.TEST, now_us, "", "", ""))),
            st.builds(
                Delivery, st.sampled_from(["mail", "hook"]), st.integers(1, 6), st.integers(0, 3),
                st.sampled_from(Outcome), st.just("said"),
            ),
            st.builds(SinkProgress, st.just("farm"), st.builds(Cursor, st.integers(0, 9))),
            *([st.sampled_from([m for _, m in story])] if story else []),  # delivered again
        ]  # fmt: skip
        story.append((now_us, draw(st.one_of(*kinds, st.just(Tick())) if ticks else st.one_of(*kinds))))
    return story


def play(bench: Bench, story: Story) -> None:
    for now_us, message in story:
        bench.turn(now_us, message)


@settings(PATIENT, max_examples=30)
@given(stories(ticks=True))
def test_the_same_messages_and_times_give_the_same_database(story: Story) -> None:
    dumps = []
    for _ in range(2):
        with engine_on(MEMORY, SETUP) as bench:
            play(bench, story)
            dumps.append(bench.dump())
    assert dumps[0] == dumps[1]


def contents(bench: Bench) -> dict[str, list[tuple[object, ...]]]:
    """All that matters of a database: without the numbers of rows, which may have gaps after a redelivery."""
    queries = {
        "journal": "SELECT time_us, name, received_us, value, unit, time_source, gauge_kpa, tension_kpa, flag, cause,"
        " late, calibration FROM journal JOIN channel ON id = channel_id ORDER BY seq",
        "latest": "SELECT name, latest.* FROM latest JOIN channel ON id = channel_id ORDER BY name",
        **{table: f"SELECT * FROM {table}" for table in ("alarm", "vote", "alarm_event", "outbox", "disabled", "sink")},
    }
    return {name: bench.rows(query) for name, query in queries.items()}


@settings(PATIENT, max_examples=60)
@given(stories(ticks=False), st.sets(st.integers(0, 25), min_size=1, max_size=4))
def test_a_power_cut_between_any_two_turns_changes_nothing(story: Story, cuts: set[int]) -> None:
    """Without ticks: silence is measured from the last start on, so that it may come later after a restart."""
    with engine_on(MEMORY, SETUP) as whole, engine_on(MEMORY, SETUP) as cut:
        play(whole, story)
        for n, (now_us, message) in enumerate(story):
            if n in cuts:
                cut.restart(now_us)
            cut.turn(now_us, message)
        assert contents(cut) == contents(whole)


@settings(PATIENT, max_examples=30)
@given(stories(ticks=False), st.data())
def test_turns_may_be_grouped_in_any_way(story: Story, data: st.DataObject) -> None:
    """A group is one transaction at one time; nothing else hangs on it."""
    end_us = story[-1][0]
    messages = [message for _, message in story]
    with engine_on(MEMORY, SETUP) as one_by_one, engine_on(MEMORY, SETUP) as grouped:
        for message in messages:
            one_by_one.turn(end_us, message)
        while messages:
            size = data.draw(st.integers(1, len(messages)))
            grouped.turn(end_us, *messages[:size])
            messages = messages[size:]
        assert grouped.dump() == one_by_one.dump()


@pytest.mark.parametrize("cut", range(1, 40, 5))
def test_an_episode_of_two_days_is_told_once_wherever_the_power_fails(tmp_path: Path, cut: int) -> None:
    with engine_on(tmp_path, SETUP) as bench:
        values = [*range(30, 66), *range(60, 4, -14), *range(5, 9)]
        for n, value in enumerate(values):
            now_us = START_US + 60 * n * MINUTE_US
            if n == cut:
                bench.restart(now_us)
            bench.turn(now_us, line(now_us, n20=float(value), n40=float(value), n60=float(value)))
        assert [(kind, change) for kind, _, change in bench.events()] == [
            ("irrigate-plan", "raised"), ("irrigate-now", "raised"),
            ("irrigate-now", "cleared"), ("irrigate-plan", "cleared"),
        ]  # fmt: skip
