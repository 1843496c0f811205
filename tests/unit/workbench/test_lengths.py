"""Lengths as people write and read them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import Ruler, altitude_text, both_text, parse_altitude_m


@pytest.mark.parametrize(
    ("text", "ruler", "length_mm"),
    [
        ("60", Ruler.CM, 600.0),
        ("60.5 cm", Ruler.CM, 605.0),
        ("60,5", Ruler.CM, 605.0),
        ("24", Ruler.INCH, 609.6),  # 24 x 25.4
        ("24in", Ruler.CM, 609.6),
        ('24"', Ruler.CM, 609.6),
        ("2 1/2", Ruler.INCH, 63.5),
        ("2-1/2in", Ruler.CM, 63.5),
        ("1/8", Ruler.INCH, 3.175),
        ("10ft", Ruler.CM, 3048.0),
        ("3m", Ruler.INCH, 3000.0),
        ("3 mm", Ruler.INCH, 3.0),
        ("-30", Ruler.CM, -300.0),
        (".5", Ruler.CM, 5.0),
    ],
)
def test_a_length_is_read_in_the_unit_it_carries_or_else_in_the_rulers(
    text: str, ruler: Ruler, length_mm: float
) -> None:
    assert ruler.parse_mm(text) == pytest.approx(length_mm, abs=1e-6)


@pytest.mark.parametrize("text", ["", "cm", "sixty", "60 yards", "1/0", "5/00", "1 2 3", "nan", "inf", "60cm60", "--5"])
def test_what_is_no_length_is_refused_with_examples(text: str) -> None:
    with pytest.raises(SheetError, match="is no length: write 60, 60cm, 24in"):
        Ruler.CM.parse_mm(text)


@given(st.integers(0, 50_000))
def test_centimetres_written_to_the_millimetre_read_back_the_same(length_mm: int) -> None:
    assert Ruler.CM.parse_mm(Ruler.CM.text(float(length_mm))) == pytest.approx(length_mm)


@given(st.integers(0, 16 * 400))
def test_inches_written_to_a_sixteenth_read_back_the_same(sixteenths: int) -> None:
    length_mm = sixteenths * 25.4 / 16
    assert Ruler.INCH.parse_mm(Ruler.INCH.text(length_mm)) == pytest.approx(length_mm, abs=1e-5)


@given(st.floats(0, 20_000))
def test_an_inch_is_rounded_by_no_more_than_a_thirty_second(length_mm: float) -> None:
    written = sum(Fraction(part) for part in Ruler.INCH.number(length_mm).split())
    assert abs(float(written) * 25.4 - length_mm) <= 25.4 / 32 + 1e-9


def test_small_lengths_in_centimetres_are_written_in_millimetres() -> None:
    assert [Ruler.CM.text(mm) for mm in (0.0, 3.0, 3.175, 10.0, 12.0)] == ["0 cm", "3 mm", "3.2 mm", "1 cm", "1.2 cm"]


def test_messages_have_both_units() -> None:
    assert both_text(762.0) == "76.2 cm (30 in)"


@pytest.mark.parametrize(
    ("text", "altitude_m"), [("420", 420.0), ("-3", -3.0), ("420m", 420.0), ("1400ft", 426.72), ("12,5", 12.5)]
)
def test_an_altitude_is_metres_unless_it_says_feet(text: str, altitude_m: float) -> None:
    assert parse_altitude_m(text) == pytest.approx(altitude_m)


@pytest.mark.parametrize("text", ["", "high", "420cm", "1/2", "1 1/2ft"])
def test_what_is_no_altitude_is_refused_with_examples(text: str) -> None:
    with pytest.raises(SheetError, match="is no altitude: write metres, 420, or feet, 1400ft"):
        parse_altitude_m(text)


def test_an_altitude_is_shown_in_feet_too_to_those_who_think_in_inches() -> None:
    assert altitude_text(426.72, Ruler.INCH) == "427 m (1400 ft)"
    assert altitude_text(-2.4, Ruler.CM) == "-2 m"
