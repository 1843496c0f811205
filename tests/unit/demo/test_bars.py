"""Bars, curves and rulers, for any number."""

from hypothesis import given
from hypothesis import strategies as st

from parchd.demo.bars import bar, cell_of, curve, ruler
from parchd.demo.picture import Point
from parchd.demo.style import ASCII, UNICODE, Style

KPA = st.floats(-20.0, 120.0)
WIDTH = st.integers(8, 80)
STYLES = st.sampled_from([Style(ASCII), Style(UNICODE)])
LIMITS = (33.0, 40.0)


def filled(text: str) -> int:
    return sum(text.count(letter) for letter in (*UNICODE.blocks, ASCII.blocks))


@given(KPA | st.none(), WIDTH, STYLES)
def test_a_bar_is_as_wide_as_asked_and_shows_both_limits(value: float | None, width: int, style: Style) -> None:
    drawn = bar(value, 60.0, LIMITS, width, style)
    assert len(drawn) == width
    assert drawn[cell_of(40.0, 60.0, width)] == style.letters.now


@given(KPA, KPA, WIDTH, STYLES)
def test_a_drier_soil_never_has_a_shorter_bar(one: float, other: float, width: int, style: Style) -> None:
    moist, dry = sorted((one, other))
    assert filled(bar(moist, 60.0, LIMITS, width, style)) <= filled(bar(dry, 60.0, LIMITS, width, style))


def test_free_water_and_no_value_have_no_bar() -> None:
    assert filled(bar(-3.0, 60.0, (), 20, Style())) == filled(bar(None, 60.0, (), 20, Style())) == 0


def test_a_bar_ends_in_an_eighth_of_a_cell() -> None:
    assert bar(20.6, 80.0, (), 10, Style(UNICODE)) == "██▌·······"


def test_a_mark_within_the_bar_is_reversed_and_a_mark_outside_is_strong() -> None:
    drawn = bar(30.0, 60.0, (15.0, 45.0), 8, Style(UNICODE, attributes=True))
    assert "\x1b[7m┊\x1b[0m" in drawn
    assert "\x1b[1m┃\x1b[0m" in drawn


@given(st.floats(1.0, 59.0), st.floats(1.0, 59.0), st.integers(12, 80))
def test_a_ruler_is_as_wide_as_its_bar_and_keeps_its_numbers_apart(one: float, other: float, width: int) -> None:
    plan, now = sorted((one, other))
    line = ruler((plan, now), 60.0, width)
    assert len(line) == width
    assert line.split()[0] == f"{plan:.0f}"


@given(st.lists(st.tuples(st.floats(0.0, 200.0), KPA | st.none()), max_size=90), st.integers(1, 60), STYLES)
def test_a_curve_is_as_wide_as_asked(points: list[tuple[float, float | None]], width: int, style: Style) -> None:
    history = [Point(age, kpa) for age, kpa in sorted(points, key=lambda point: -point[0])]
    assert len(curve(history, width, style)) == width


def test_noise_of_a_steady_soil_does_not_fill_the_curve() -> None:
    steady = [Point(float(age), 20.0 + (age % 2) * 0.1) for age in range(59, -1, -1)]
    assert curve(steady, 12, Style(UNICODE)) == "▁" * 12


def test_an_hour_without_a_value_is_an_empty_curve() -> None:
    assert curve([Point(5.0, None)], 12, Style(UNICODE)) == " " * 12
