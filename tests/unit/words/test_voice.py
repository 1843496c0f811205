"""How people are spoken to."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.units import KPA_PER
from parchd.words import UNITS, DateStyle, Text, Voice, languages, text

MAY_US = 1_780_000_000_000_000
NEW_YEAR_US = 1_798_758_000_000_000  # 2026-12-31 23:00 UTC


@pytest.mark.parametrize(
    ("voice", "said"),
    [
        (Voice(), "Thu 28 May 2026, 20:26"),
        (Voice(date_style=DateStyle.MONTH_FIRST), "Thu, May 28, 2026, 8:26 PM"),
        (Voice(date_style=DateStyle.ISO), "2026-05-28 20:26"),
        (Voice("de", date_style=DateStyle.ISO, time_zone="Pacific/Auckland"), "2026-05-29 08:26"),
    ],
)
def test_times_are_written_as_their_reader_writes_them(voice: Voice, said: str) -> None:
    assert voice.local(MAY_US) == said


def test_a_day_is_that_of_the_reader_s_time_zone() -> None:
    assert Voice(time_zone="Europe/Berlin").day(NEW_YEAR_US) == "Fri 1 Jan"
    assert Voice(time_zone="America/Denver").day(NEW_YEAR_US) == "Thu 31 Dec"


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_that_is_offered_can_be_said_and_says_as_much_as_kpa(unit: str) -> None:
    said = Voice(units=unit).tension(62.4)
    assert said.endswith(f" {unit}")
    assert float(said.split()[0]) * KPA_PER[unit] == pytest.approx(62.4, abs=0.75)


@given(st.floats(-1e4, 1e4), st.integers(0, 3), st.sampled_from(languages()))
def test_a_number_is_never_a_zero_with_a_minus_sign(value: float, decimals: int, language: str) -> None:
    said = Voice(language).number(value, decimals).replace(",", ".")
    assert float(said) == pytest.approx(value, abs=0.51 * 10.0**-decimals)
    assert not (said.startswith("-") and float(said) == 0.0)


def test_texts_within_texts_are_said_with_the_same_names() -> None:
    inner = text("Fill {name} to {kpa:60}.")
    outer = text("After the rain. {then} Write it down: {work}.", then=inner, work="refill")
    assert Voice(units="cbar").say(outer, name="north-1") == (
        "After the rain. Fill north-1 to 60 cbar. Write it down: refill."
    )


def test_a_name_that_looks_like_a_place_stays_a_name() -> None:
    assert Voice().say("Look at {name}.", name="{vacuum}{0}") == "Look at {vacuum}{0}."


def test_nothing_says_nothing() -> None:
    assert Voice("de").say("") == Voice().say(Text("")) == ""


def test_a_language_that_is_not_known_is_answered_in_english() -> None:
    assert Voice("eo").say("{n} h", n=3) == "3 h"


def test_speaking_english_without_dates_loads_no_library() -> None:
    """The daemon of a farm that has no person with a language of their own stays as small as it was."""
    code = (
        "import sys; from parchd.contract import Notice; from parchd.words import Voice; Voice().say('a');"
        "sys.exit('babel' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0
