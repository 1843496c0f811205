"""Charts: round numbers on axes, lines that fit a terminal, pictures that are well-formed and black on white."""

import math
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.workbench.chart import Chart, Level, Look, Point, Series, Span, thinned
from parchd.workbench.chart_axis import scale, texts, ticks
from parchd.workbench.chart_svg import chart_svg
from parchd.workbench.chart_text import ASCII, BRAILLE, LEAST_COLUMNS, LEAST_ROWS, Letters, chart_text
from parchd.workbench.proof_chart import time_chart

finite = st.floats(-1e4, 1e4, allow_nan=False).map(lambda x: round(x, 3))
points = st.lists(st.tuples(finite, finite), min_size=1, max_size=60).map(lambda found: tuple(sorted(found)))
spans = st.tuples(finite, st.floats(1e-3, 1e4)).map(lambda pair: Span(pair[0], pair[0] + pair[1]))


def chart(*series: Series, levels: tuple[Level, ...] = ()) -> Chart:
    return Chart("n1: test", "min", "kPa", Span(0.0, 10.0), Span(0.0, 30.0), series, levels)


@given(spans, st.integers(3, 12))
def test_ticks_are_few_round_and_within(span: Span, most: int) -> None:
    found = ticks(span, most)
    assert len(found) <= most + 1
    assert all(span.low - 1e-6 <= value <= span.high + 1e-6 for value in found)
    steps = {round(later - earlier, 9) for earlier, later in pairwise(found)}
    assert len(steps) <= 1


@given(spans, st.integers(3, 12))
def test_a_scale_holds_its_span_between_its_first_and_last_number(span: Span, most: int) -> None:
    wide, values = scale(span, most)
    assert (values[0], values[-1]) == (wide.low, wide.high)
    assert wide.low <= span.low + 1e-6
    assert wide.high >= span.high - 1e-6
    assert 2 <= len(values) <= most + 2


@pytest.mark.parametrize("letters", [BRAILLE, ASCII])
@given(data=points, columns=st.integers(LEAST_COLUMNS, 200), rows=st.integers(LEAST_ROWS, 40))
def test_no_line_is_wider_than_the_terminal_and_the_height_does_not_hang_on_the_data(
    letters: Letters, data: tuple[Point, ...], columns: int, rows: int
) -> None:
    drawn = chart_text(chart(Series(Look.LINE, data), levels=(Level(20.0, "20 needed"),)), columns, rows, letters)
    assert max(map(len, drawn)) <= columns
    assert len(drawn) == rows + 3


def test_a_rising_line_runs_from_the_lower_left_to_the_upper_right() -> None:
    drawn = chart_text(chart(Series(Look.LINE, ((0.0, 0.0), (10.0, 30.0)))), 60, 10, ASCII)
    field = [line.partition("+" if "+" in line else "|")[2] for line in drawn[1:11]]
    firsts = [line.index("*") for line in field]
    assert firsts == sorted(firsts, reverse=True)
    assert firsts[-1] == 0
    assert field[0].rindex("*") >= 50


def test_braille_lights_the_dots_of_a_line_and_no_others() -> None:
    drawn = chart_text(chart(Series(Look.LINE, ((0.0, 0.0), (10.0, 0.0)))), 60, 8, BRAILLE)
    lowest = drawn[8].partition("┤")[2]
    assert set(lowest) == {"⣀"}, "the lowest row of dots"
    assert not any("⠁" <= letter <= "⣿" for line in drawn[1:8] for letter in line)


def test_levels_carry_their_words_at_the_right_end_and_the_curve_lies_over_them() -> None:
    flat = Series(Look.LINE, ((0.0, 20.0), (3.0, 20.0)))
    drawn = chart_text(chart(flat, levels=(Level(20.0, "20 needed"),)), 60, 10, ASCII)
    (line,) = [line for line in drawn if "needed" in line]
    assert line.endswith("- 20 needed")
    assert "***" in line


def test_points_have_signs_that_are_explained() -> None:
    points = (Series(Look.UP, ((2.0, 10.0),), "up"), Series(Look.LEFT_OUT, ((5.0, 20.0),), "left out"))
    drawn = chart_text(chart(*points), 60, 8, ASCII)
    assert drawn[-1] == "^ up  x left out"
    assert sum(line.count("^") for line in drawn) == 2


@given(points, st.integers(3, 40))
def test_thinning_keeps_the_ends_and_the_order(data: tuple[Point, ...], most: int) -> None:
    few = thinned(data, most)
    assert len(few) <= max(most, 3)
    assert (few[0], few[-1]) == (data[0], data[-1])
    assert [x for x, _ in few] == sorted(x for x, _ in few)


def test_a_single_wild_value_does_not_survive_thinning() -> None:
    wild = [(float(n), 1000.0 if n == 50 else 1.0) for n in range(100)]
    assert max(y for _, y in thinned(wild, 20)) == 1.0


@pytest.mark.parametrize(
    ("last_s", "title", "end"), [(0.0, "s", 10.0), (100.0, "s", 120.0), (1500.0, "min", 30.0), (1e6, "min", 18000.0)]
)
def test_time_is_in_seconds_or_minutes_and_the_axis_grows(last_s: float, title: str, end: float) -> None:
    drawn = time_chart("t", "kPa", Span(0.0, 1.0), [(0.0, 0.0), (last_s, 1.0)], ())
    assert drawn.x_title == title
    assert drawn.x.high == pytest.approx(end)
    assert drawn.series[0].points[-1][0] == pytest.approx(last_s / (1.0 if title == "s" else 60.0))


def test_a_picture_is_well_formed_and_names_nothing_outside() -> None:
    series = (Series(Look.LINE, tuple((n / 10.0, 10.0 * math.sin(n)) for n in range(2000)), "measured"),
              Series(Look.SUSPECT, ((3.0, 4.0),), "odd <&>"))  # fmt: skip
    notes = ("FAILED: x < y. " * 20, "then")
    one = Span(0.0, 1.0)
    drawn = Chart("A <title> & more", "min", "kPa", one, one, series, (Level(5.0, "<5"),), notes)
    text = chart_svg(drawn)
    root = ElementTree.fromstring(text)
    assert root.attrib["viewBox"].startswith("0 0 180 ")
    words = "".join(root.itertext())
    assert "A <title> & more" in words
    assert "odd <&>" in words
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    colours = {word for word in text.replace(";", " ").replace('"', " ").split() if word.startswith("#")}
    assert colours <= {"#000", "#fff", "#bbb"}
    assert len(text) < 30_000, "thousands of samples are thinned"


def test_notes_stay_on_the_paper() -> None:
    one = Span(0.0, 1.0)
    text = chart_svg(Chart("t", "x", "y", one, one, notes=("word " * 100, "word " * 100)))
    root = ElementTree.fromstring(text)
    lines = [element for element in root.iter() if (element.text or "").startswith("word")]
    assert max(float(line.attrib["y"]) for line in lines) < float(root.attrib["viewBox"].split()[3])
    assert max(len(line.text or "") for line in lines) <= 92


def test_numbers_of_an_axis_have_the_decimals_they_need() -> None:
    assert texts([-0.5, 0.0, 0.5]) == ["-0.5", "0.0", "0.5"]
    assert texts([-0.0]) == ["0"]
