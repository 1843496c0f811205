"""Spans that are doubted, and the rows of the journal that show it."""

import json
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Flag
from parchd.diagnosis.findings import End, Finding, FindingKey
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.physics.causes import flag_of
from parchd.quality.stage import Revised
from parchd.store import doubts, findings
from parchd.store.doubts import Doubt, doubt_about, doubt_of, is_marking, mark_from, mark_some, with_doubt
from parchd.store.journal import Journal
from parchd.store.tracks import revise
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.site import MINUTE_US, START_US, reading

HARD = [cause for cause in Cause if cause not in doubts.YIELDING and cause not in (Cause.DOUBTED, Cause.CONDEMNED)]
spans = st.lists(
    st.tuples(st.sampled_from([Cause.DOUBTED, Cause.CONDEMNED]), st.integers(0, 40), st.integers(1, 20)).map(
        lambda one: (one[0], one[1], one[1] + one[2])
    ),
    max_size=6,
)


@pytest.fixture
def bench() -> Iterator[Bench]:
    with engine_on(MEMORY) as running:
        yield running


@given(spans, st.integers(-1, 70))
def test_the_harder_doubt_holds_wherever_spans_lie_over_each_other(
    known: list[tuple[Cause, int, int]], time_us: int
) -> None:
    there = [cause for cause, begin_us, end_us in known if begin_us <= time_us < end_us]
    assert doubt_of(known).at(time_us) == max(there, default=Cause.NONE)


@given(spans, st.integers(0, 30), st.integers(1, 40))
def test_pieces_cover_a_span_and_each_has_one_cause(
    known: list[tuple[Cause, int, int]], begin_us: int, length: int
) -> None:
    doubt, end_us = doubt_of(known), begin_us + length
    told = [cause for first, last, cause in doubt.pieces(begin_us, end_us) for _ in range(first, last)]
    assert told == [doubt.at(time_us) for time_us in range(begin_us, end_us)]


@pytest.mark.parametrize("own", HARD)
def test_a_harder_cause_stays(own: Cause) -> None:
    assert with_doubt(own, Cause.CONDEMNED) is own


@pytest.mark.parametrize("own", sorted(doubts.YIELDING))
def test_a_softer_cause_gives_way(own: Cause) -> None:
    assert with_doubt(own, Cause.DOUBTED) is Cause.DOUBTED
    assert with_doubt(own, Cause.NONE) is own


def test_what_the_diagnosis_says_is_the_flag_of_the_finding() -> None:
    for kind, consequence in CONSEQUENCES.items():
        cause = {Flag.SUSPECT: Cause.DOUBTED, Flag.FAIL: Cause.CONDEMNED}.get(consequence.flag, Cause.NONE)
        if cause:
            assert flag_of(cause) is consequence.flag, kind


def minutes(number: int) -> int:
    return START_US + number * MINUTE_US


CAUSES = (Cause.NONE, Cause.ABOVE_LIMIT, Cause.SPIKE, Cause.OPEN_CIRCUIT, Cause.FLAT_LINE, Cause.SERVICE)


def written(bench: Bench) -> Journal:
    """Rows of two channels, one a minute, of all kinds of causes."""
    journal = Journal(bench.connection)
    rows = [
        reading(f"bus1/{channel}", minutes(n), 30.0 + n, flag_of(cause), cause)
        for n in range(30)
        for channel, cause in (("n20", CAUSES[n % len(CAUSES)]), ("n40", Cause.NONE))
    ]
    with journal.transaction():
        journal.write(rows)
    return journal


def rows_of(bench: Bench, channel: str = "n20") -> list[tuple[int, int, int | None]]:
    return bench.rows(
        "SELECT cause, flag, own_cause FROM journal JOIN channel ON id = channel_id WHERE name = ? ORDER BY time_us",
        f"bus1/{channel}",
    )


def mark(journal: Journal, bench: Bench, doubt: Doubt, from_us: int) -> int:
    turns = 0
    number = journal.channel_id("bus1/n20")
    assert number is not None
    with journal.transaction():
        mark_from(bench.connection, number, from_us)
    while is_marking(bench.connection):
        with journal.transaction():
            mark_some(bench.connection, {number: doubt})
        turns += 1
    return turns


def expected(doubt: Doubt) -> list[tuple[int, int, int | None]]:
    told = []
    for n in range(30):
        own = CAUSES[n % len(CAUSES)]
        cause = with_doubt(own, doubt.at(minutes(n)))
        told.append((int(cause), int(flag_of(cause)), None if cause is own else int(own)))
    return told


moments = st.integers(0, 32).map(minutes)
doubted = st.lists(st.tuples(st.sampled_from([Cause.DOUBTED, Cause.CONDEMNED]), moments, moments), max_size=3).map(
    lambda some: doubt_of([(cause, min(a, b), max(a, b)) for cause, a, b in some])
)


@given(st.lists(doubted, min_size=1, max_size=4), st.sampled_from([1, 2, 7, 50_000]))
def test_rows_follow_whatever_is_doubted_next_and_lose_nothing(course: Sequence[Doubt], slice_rows: int) -> None:
    with engine_on(MEMORY) as bench, pytest.MonkeyPatch.context() as patch:
        patch.setattr(doubts, "SLICE_ROWS", slice_rows)
        journal = written(bench)
        for doubt in (*course, Doubt()):
            mark(journal, bench, doubt, START_US)
            assert rows_of(bench) == expected(doubt)
        assert set(rows_of(bench, "n40")) == {(0, 1, None)}


def test_a_long_span_is_worked_off_in_slices_from_its_end_and_copied_whole(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doubts, "SLICE_ROWS", 10)
    journal = written(bench)
    condemned = doubt_of([(Cause.CONDEMNED, START_US, doubts.END_OF_TIME_US)])
    number = journal.channel_id("bus1/n20")
    assert number is not None
    with journal.transaction():
        mark_from(bench.connection, number, START_US)
        mark_some(bench.connection, {number: condemned})
    seen = [cause == Cause.CONDEMNED for cause, _, _ in rows_of(bench)]
    assert (seen[0], seen[-2]) == (False, True)
    assert bench.rows("SELECT * FROM rewritten") == []
    assert mark(journal, bench, condemned, START_US) == 5
    assert [(start, end, json.loads(channels)) for start, end, channels in
            bench.rows("SELECT start_us, end_us, channels FROM rewritten")] == [
        (START_US, minutes(29) + 1, [number])
    ]  # fmt: skip


def test_where_nothing_comes_out_different_sinks_copy_nothing(bench: Bench) -> None:
    journal = written(bench)
    mark(journal, bench, Doubt(), START_US)
    assert bench.rows("SELECT * FROM rewritten") == []


def test_a_row_that_turns_out_to_be_a_spike_shows_it_when_the_doubt_is_gone(bench: Bench) -> None:
    journal = written(bench)
    condemned = doubt_of([(Cause.CONDEMNED, START_US, doubts.END_OF_TIME_US)])
    mark(journal, bench, condemned, START_US)
    with journal.transaction():
        revise(bench.connection, [Revised("bus1/n20", START_US, Cause.SPIKE)])
    assert rows_of(bench)[0] == (Cause.CONDEMNED, Flag.FAIL, Cause.SPIKE)
    mark(journal, bench, Doubt(), START_US)
    assert rows_of(bench)[0] == (Cause.SPIKE, Flag.SUSPECT, None)


def test_only_findings_that_left_a_span_and_take_trust_doubt_a_tensiometer(bench: Bench) -> None:
    journal = Journal(bench.connection)

    def found(kind: FindingKind, start: int, ended: int | None, end: End | None) -> None:
        key = FindingKey(kind, "tensiometer/north-20")
        finding = Finding(key, minutes(start), minutes(start + 1), 0.9)
        with journal.transaction():
            findings.begin(bench.connection, finding, "", START_US)
            if ended is not None:
                ended_us = minutes(ended)
                findings.end(bench.connection, Finding(key, finding.start_us, 0, 0.9, (), ended_us, end), START_US)

    found(FindingKind.FROST_RISK, 0, None, None)
    found(FindingKind.LEVEL_SHIFT, 5, 8, End.RECOVERED)
    found(FindingKind.LOST_WATER, 10, 10, End.DISMISSED)
    found(FindingKind.AIR_LEAK, 12, 12, End.REFINED)
    found(FindingKind.LOST_WATER, 14, None, None)
    doubt = doubt_about(bench.connection, "north-20")
    assert [doubt.at(minutes(n)).name for n in (4, 5, 7, 8, 10, 13, 14, 9999)] == [
        "NONE", "DOUBTED", "DOUBTED", "NONE", "NONE", "NONE", "CONDEMNED", "CONDEMNED",
    ]  # fmt: skip
    assert doubt_about(bench.connection, "north-40") == Doubt()
