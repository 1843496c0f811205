"""Line protocol as the sink writes it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Cause, Flag, Place, StoredReading, Unit
from parchd_adapters.influxdb.lines import RAW_FIELDS, LineEncoder, escape, prefix

PLACE = Place("Quillmere Orchard", "north block", "n1", "n1-30", 0.3)
ROW = StoredReading(
    7, 1_780_000_000_123_456, "bus1/a0", PLACE, 482.5, Unit.MV, -24.0, 21.1, Flag.PASS, Cause.NONE, False, "2026-03-01"
)


def encoder(**tags: str) -> LineEncoder:
    return LineEncoder("Quillmere Orchard", "tension", "channel", tags)


def test_a_tension_line_carries_place_values_and_microseconds() -> None:
    assert encoder().line(ROW) == (
        "tension,channel=bus1/a0,depth_m=0.3,site=Quillmere\\ Orchard,station=n1,tensiometer=n1-30,zone=north\\ block "
        "tension_kpa=21.1,gauge_kpa=-24.0,raw_mv=482.5,flag=1i,cause=0i,late=false 1780000000123456"
    )


def test_a_channel_without_a_place_goes_to_its_own_measurement() -> None:
    line = encoder().line(replace(ROW, place=None, unit=Unit.V, value=5.0, gauge_kpa=None, tension_kpa=None))
    assert line == (
        "channel,channel=bus1/a0,site=Quillmere\\ Orchard raw_v=5.0,flag=1i,cause=0i,late=false 1780000000123456"
    )


def test_a_row_without_numbers_still_has_its_flag() -> None:
    row = replace(ROW, value=None, gauge_kpa=None, tension_kpa=None, flag=Flag.MISSING, cause=Cause.NO_VALUE, late=True)
    assert encoder().line(row).split(" ")[-2] == "flag=9i,cause=1i,late=true"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_the_protocol_cannot_carry_is_left_out(value: float) -> None:
    line = encoder().line(replace(ROW, tension_kpa=value, value=value))
    assert line.split(" ")[-2] == "gauge_kpa=-24.0,flag=1i,cause=0i,late=false"


def test_a_whole_number_is_written_as_a_float() -> None:
    line = encoder().line(replace(ROW, tension_kpa=0, gauge_kpa=-24, value=480))
    assert "tension_kpa=0.0,gauge_kpa=-24.0,raw_mv=480.0," in line


def test_every_unit_has_a_field_of_its_own() -> None:
    assert set(RAW_FIELDS) == set(Unit)
    assert len(set(RAW_FIELDS.values())) == len(Unit)


def test_constant_tags_stand_on_every_line() -> None:
    for row in (ROW, replace(ROW, place=None)):
        assert ",season=dry\\ 2026," in encoder(season="dry 2026").line(row)


def test_a_tensiometer_that_moves_changes_its_lines() -> None:
    lines = encoder()
    before = lines.line(ROW)
    after = lines.line(replace(ROW, place=replace(PLACE, zone="creek terrace")))
    assert "zone=north\\ block" in before
    assert "zone=creek\\ terrace" in after
    assert lines.line(ROW) == before


def test_a_name_with_everything_in_it_keeps_to_its_tag() -> None:
    assert escape('a, b=c "d" \\') == 'a\\,\\ b\\=c\\ "d"\\ /'
    assert escape("two\nlines\x00\u2028\ud800end") == "two\\ lines\\ \\ \\ end"


def test_names_of_other_scripts_are_kept() -> None:
    assert escape("Côté nord 北区 Ω") == "Côté\\ nord\\ 北区\\ Ω"


def test_an_empty_tag_is_left_out() -> None:
    assert prefix("tension", {"a": "", "b": "1"}) == "tension,b=1"


def test_many_channels_do_not_fill_the_memory() -> None:
    lines = encoder()
    for number in range(10_050):
        lines.line(replace(ROW, channel=f"bus1/{number}", place=None))
    assert len(lines._fronts) < 10_001


def unescape(text: str) -> str:
    for char in ",= ":
        text = text.replace("\\" + char, char)
    return text


@given(st.text())
def test_escaping_keeps_one_token_and_loses_only_what_it_says(text: str) -> None:
    written = escape(text)
    assert unescape(written) == "".join(char if char.isprintable() else " " for char in text).replace("\\", "/")
    bare = written.replace("\\,", "").replace("\\=", "").replace("\\ ", "")
    assert not set(bare) & set(",= \\\n\r")
    written.encode()


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_float_reads_back_to_the_last_bit(value: float) -> None:
    field = encoder().line(replace(ROW, tension_kpa=value)).split(" ")[-2].split(",")[0]
    assert float(field.removeprefix("tension_kpa=")) == value
