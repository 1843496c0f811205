"""What the quality tests remember: kept, read back, and made of the journal."""

import random
from collections.abc import Iterator, Mapping
from dataclasses import replace

import pytest

from parchd.contract import Cause, Flag
from parchd.pipeline.stage import compile_pipeline
from parchd.quality.limits import Limits
from parchd.quality.stage import Revised
from parchd.quality.track import Track, step
from parchd.store import tracks as tracks_module
from parchd.store.tracks import TrackKeeper, load_tracks, revise
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, batch, line, sample, small_site

QUARTER_US = 15 * MINUTE_US
LIMITS: Mapping[str, Limits] = compile_pipeline(small_site()[0]).limits
N20 = "bus1/n20"


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as made:
        yield made


def follow(bench: Bench, count: int, start_us: int = START_US) -> dict[str, Track]:
    """Feed some values, and follow them beside."""
    chance, tracks = random.Random(count), dict[str, Track]()
    for n in range(count):
        time_us, kpa = start_us + n * QUARTER_US, round(20.0 + n * 0.02 + chance.uniform(0, 0.1), 3)
        bench.turn(time_us, line(time_us, n20=kpa))
        step(LIMITS[N20], tracks, N20, time_us, kpa, Cause.NONE, "")
    return tracks


def shown(tracks: Mapping[str, Track]) -> dict[str, str]:
    return {name: tracks_module._encoded(track) for name, track in tracks.items()}


def kept_rows(bench: Bench) -> list[tuple[object, ...]]:
    return bench.rows("SELECT * FROM quality ORDER BY channel_id")


def test_what_was_kept_comes_back_bit_for_bit(bench: Bench) -> None:
    tracks = follow(bench, 300)
    TrackKeeper().save(bench.connection, LIMITS, tracks)
    assert shown(load_tracks(bench.connection, LIMITS)) == shown(tracks)


def test_an_empty_bucket_comes_back_empty(bench: Bench) -> None:
    tracks = follow(bench, 9)  # the last sample, the first of a bucket, is kept back until the next one
    assert tracks[N20].ranges.low > tracks[N20].ranges.high
    TrackKeeper().save(bench.connection, LIMITS, tracks)
    again = load_tracks(bench.connection, LIMITS)
    assert shown(again) == shown(tracks)
    assert again[N20].ranges.short_low == tracks[N20].ranges.short_low


def test_without_a_word_that_was_kept_the_journal_tells_the_same(bench: Bench) -> None:
    tracks = follow(bench, 200)
    assert kept_rows(bench) == []
    assert shown(load_tracks(bench.connection, LIMITS)) == shown(tracks)


def test_samples_since_then_are_taken_up(bench: Bench) -> None:
    earlier = follow(bench, 150)
    TrackKeeper().save(bench.connection, LIMITS, earlier)
    later = follow(bench, 200)  # the first 150 come again: they are late and change nothing
    tracks = load_tracks(bench.connection, LIMITS)
    assert tracks[N20].last_us == later[N20].last_us
    assert tracks[N20].ranges.start_us == START_US


def test_other_limits_make_it_start_from_the_journal(bench: Bench) -> None:
    TrackKeeper().save(bench.connection, LIMITS, follow(bench, 100))
    wider = {N20: replace(LIMITS[N20], bucket_us=6 * HOUR_US)}
    track = load_tracks(bench.connection, wider)[N20]
    assert track.ranges.end_us - track.ranges.number * 6 * HOUR_US == 6 * HOUR_US
    assert track.ranges.start_us == START_US


def test_channels_that_are_no_tensiometers_any_more_are_passed_over(bench: Bench) -> None:
    TrackKeeper().save(bench.connection, LIMITS, follow(bench, 10))
    assert load_tracks(bench.connection, {}) == {}


def test_a_clock_that_was_set_back_since_makes_it_start_from_the_journal(bench: Bench) -> None:
    TrackKeeper().save(bench.connection, LIMITS, follow(bench, 100))
    back_us = START_US + 50 * QUARTER_US
    bench.connection.execute("UPDATE latest SET time_us = ?", (back_us,))
    assert load_tracks(bench.connection, LIMITS)[N20].last_us == back_us


def test_only_tracks_that_went_on_are_written_again(bench: Bench) -> None:
    keeper = TrackKeeper()
    tracks = follow(bench, 20)
    keeper.save(bench.connection, LIMITS, tracks)
    bench.connection.execute("DELETE FROM quality")
    keeper.save(bench.connection, LIMITS, tracks)
    assert kept_rows(bench) == []
    step(LIMITS[N20], tracks, N20, START_US + DAY_US, 20.0, Cause.NONE, "")
    keeper.save(bench.connection, LIMITS, tracks)
    assert len(kept_rows(bench)) == 1


def test_a_value_that_found_its_place_taken_is_remembered_over_a_restart(bench: Bench) -> None:
    """A message of unknown time took the row of the one that came in time: only what is kept knows the latter."""
    taken_us = START_US + 2 * QUARTER_US
    bench.feed(line(START_US, n20=30.0), line(START_US + QUARTER_US, n20=30.0))
    bench.connection.execute(
        "INSERT INTO journal SELECT ?, channel_id, 99, received_us, value, unit, time_source, gauge_kpa, 70.0, flag,"
        " cause, 1, calibration, uncertainty_kpa" + ", NULL" * (len(_columns(bench)) - 14) + " FROM journal LIMIT 1",
        (taken_us,),
    )
    bench.feed(batch(sample("n20", taken_us, 40.0)))
    bench.restart(taken_us)
    assert load_tracks(bench.connection, LIMITS)[N20].last_kpa == 40.0


def _columns(bench: Bench) -> list[tuple[object, ...]]:
    return bench.rows("SELECT name FROM pragma_table_info('journal')")


@pytest.mark.parametrize("cause", [Cause.SERVICE, Cause.CONDEMNED, Cause.ABOVE_LIMIT])
def test_what_others_say_of_a_row_by_now_stays(bench: Bench, cause: Cause) -> None:
    bench.feed(line(START_US, n20=30.0), line(START_US + QUARTER_US, n20=30.0))
    bench.connection.execute("UPDATE journal SET cause = ?, flag = 4 WHERE time_us = ?", (int(cause), START_US))
    spike = [Revised(N20, time_us, Cause.SPIKE) for time_us in (START_US, START_US + QUARTER_US)]
    revise(bench.connection, spike)
    assert bench.rows("SELECT cause, flag FROM journal ORDER BY time_us") == [
        (cause, Flag.FAIL), (Cause.SPIKE, Flag.SUSPECT),
    ]  # fmt: skip
    assert bench.rows("SELECT start_us, end_us FROM rewritten") == [(START_US, START_US + QUARTER_US + 1)]
