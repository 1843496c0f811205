"""Messages on their way through the outbox."""

import json

from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import AnswerLink, Chart, JsonValue, Limit, Line, Mark, Notice, NoticeKind, Priority, Table
from parchd.words import UNITS, DateStyle, Voice

words = st.text(max_size=20)
cells = st.tuples(words, words)
json_values: st.SearchStrategy[JsonValue] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=6,
)
tables = st.builds(Table, words, cells, st.lists(cells, max_size=3).map(tuple))
numbers = st.floats(allow_nan=False, allow_infinity=False)
lines = st.builds(Line, words, st.lists(st.none() | numbers, max_size=4).map(tuple), st.booleans())
charts = st.builds(
    Chart,
    title=words,
    unit=words,
    start_us=st.integers(0, 2**53),
    step_us=st.integers(1, 2**40),
    lines=st.lists(lines, max_size=3).map(tuple),
    limits=st.lists(st.builds(Limit, words, numbers), max_size=2).map(tuple),
    marks=st.lists(st.builds(Mark, words, st.integers(0, 2**53)), max_size=2).map(tuple),
    alt=words,
)
voices = st.builds(Voice, words, st.sampled_from(sorted(UNITS)), st.sampled_from(DateStyle), words)
notices = st.builds(
    Notice,
    id=words,
    kind=st.sampled_from(NoticeKind),
    time_us=st.integers(0, 2**53),
    site=words,
    subject=words,
    summary=words,
    facts=st.lists(cells, max_size=3).map(tuple),
    advice=st.lists(words, max_size=3).map(tuple),
    tables=st.lists(tables, max_size=2).map(tuple),
    priority=st.sampled_from(Priority),
    thread=st.none() | words,
    data=st.dictionaries(words, json_values, max_size=3),
    lines=st.lists(cells, max_size=3).map(tuple),
    answers=st.lists(st.builds(AnswerLink, words, words, words), max_size=2).map(tuple),
    charts=st.lists(charts, max_size=2).map(tuple),
    voice=voices,
)


@given(notices)
def test_a_notice_survives_the_outbox(notice: Notice) -> None:
    again = Notice.from_json(notice.to_json())
    assert again == notice
    assert (type(again.kind), type(again.priority)) == (NoticeKind, Priority)
    assert type(again.voice.date_style) is DateStyle


def test_a_notice_is_stored_as_plain_json_that_people_can_read() -> None:
    notice = Notice("t.1", NoticeKind.TEST, 5, "Quillmere Orchard", "Grüße", "Summary", priority=Priority.HIGH)
    assert "Grüße" in notice.to_json()
    stored = json.loads(notice.to_json())
    assert (stored["kind"], stored["priority"], stored["thread"]) == ("test", 3, None)


def test_priorities_rise_from_low_to_high() -> None:
    assert [priority.word for priority in sorted(Priority)] == ["low", "medium", "high"]


def test_a_notice_that_was_stored_by_an_older_daemon_can_still_be_sent() -> None:
    stored = (
        '{"id":"a.1","kind":"raised","time_us":5,"site":"Quillmere Orchard","subject":"north: irrigate now",'
        '"summary":"It is dry.","facts":[["Site","Quillmere Orchard"]],"advice":[],"tables":[],"priority":3,'
        '"thread":null,"data":{}}'
    )
    notice = Notice.from_json(stored)
    assert notice.subject == "north: irrigate now"
    assert (notice.lines, notice.answers, notice.charts, notice.voice) == ((), (), (), Voice())


def test_a_chart_ends_with_the_last_value_of_its_longest_line() -> None:
    chart = Chart("north", "kPa", 100, 10, (Line("a", (1.0, None, 3.0)), Line("b", (1.0,), is_main=False)))
    assert (chart.steps, chart.end_us) == (3, 120)
    assert Chart("north", "kPa", 100, 10, ()).end_us == 100
