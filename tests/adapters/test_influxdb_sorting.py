"""Finding refused lines with few requests."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd_adapters.influxdb.replies import Reply
from parchd_adapters.influxdb.sorting import MAX_REFUSALS, Line, sort_lines


@dataclass
class ModelServer:
    """Judges lines as one of the real servers does."""

    bad: set[int]
    partial: bool = False
    quotes: bool = False
    counts: bool = False
    most: int = 10_000
    stored: set[int] = field(default_factory=set)
    requests: int = 0

    def send(self, lines: Sequence[Line]) -> Reply | None:
        self.requests += 1
        if len(lines) > self.most:
            return Reply(413, "too large", structured=True)
        bad = [line for line in lines if line.seq in self.bad]
        if self.partial or not bad:
            self.stored |= {line.seq for line in lines} - self.bad
        return Reply(422, self._reason(bad), structured=True) if bad else None

    def _reason(self, bad: Sequence[Line]) -> str:
        quoted = f"unable to parse '{bad[0].text}': bad timestamp" if self.quotes else "bad timestamp"
        return f"partial write: {quoted} dropped={len(bad)}" if self.counts else quoted


def lines(count: int) -> list[Line]:
    return [Line(seq, f"tension,channel=bus1/a{seq % 9} flag=1i {seq:06}") for seq in range(count)]


@given(
    count=st.integers(1, 60),
    data=st.data(),
    partial=st.booleans(),
    quotes=st.booleans(),
    counts=st.booleans(),
    most=st.integers(1, 70),
)
def test_all_good_lines_are_stored_and_all_bad_ones_named(
    count: int, data: st.DataObject, partial: bool, quotes: bool, counts: bool, most: int
) -> None:
    bad = data.draw(st.sets(st.integers(0, count - 1), max_size=12))
    server = ModelServer(bad, partial, quotes, counts and partial, most)
    outcome = sort_lines(lines(count), server.send)
    assert not outcome.unfinished
    assert set(outcome.refused) == bad
    assert server.stored == set(range(count)) - bad


@pytest.mark.parametrize("position", [0, 1, 999, 1000, 1037, 1999])
def test_one_bad_line_in_two_thousand_costs_at_most_23_requests(position: int) -> None:
    server = ModelServer({position})
    assert set(sort_lines(lines(2000), server.send).refused) == {position}
    assert server.requests <= 23


def test_one_bad_line_that_is_quoted_costs_three_requests() -> None:
    server = ModelServer({1037}, quotes=True)
    outcome = sort_lines(lines(2000), server.send)
    assert server.requests == 3
    assert outcome.refused == {1037: "unable to parse '...': bad timestamp"}


def test_a_batch_that_is_older_than_the_bucket_keeps_costs_one_request() -> None:
    server = ModelServer(set(range(2000)), partial=True, counts=True)
    assert len(sort_lines(lines(2000), server.send).refused) == 2000
    assert server.requests == 1


def test_the_old_half_of_a_batch_is_found_in_a_few_requests() -> None:
    server = ModelServer(set(range(777)), partial=True, counts=True)
    assert len(sort_lines(lines(2000), server.send).refused) == 777
    assert server.requests <= 23


def test_a_server_of_small_requests_is_fed_in_small_parts() -> None:
    server = ModelServer(set(), most=30)
    outcome = sort_lines(lines(2000), server.send)
    assert len(server.stored) == 2000
    assert outcome.refusals == 6  # 2000, 1000, 500, 250, 125 and 32 are too many; 16 is not
    assert outcome.limit == 16


def test_one_line_that_is_too_large_is_refused_alone() -> None:
    server = ModelServer(set(), most=0)
    assert sort_lines(lines(1), server.send).refused == {0: "too large"}


def test_the_work_is_capped_when_every_line_is_bad() -> None:
    server = ModelServer(set(range(2000)))
    outcome = sort_lines(lines(2000), server.send)
    assert server.requests == MAX_REFUSALS
    assert outcome.unfinished
    assert outcome.stored == 0


def test_an_answer_about_the_connection_stops_the_search() -> None:
    answers = iter([Reply(400, "bad", structured=True), None, Reply(503, "busy")])
    outcome = sort_lines(lines(4), lambda _lines: next(answers))
    assert outcome.blocked == Reply(503, "busy")
    assert outcome.refused == {}
    assert outcome.stored == 2
