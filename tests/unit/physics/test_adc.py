import math
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.adc import Adc, divider_gain

STEPS: tuple[Literal["2^N", "2^N-1"], ...] = ("2^N", "2^N-1")
ADCS = st.builds(
    Adc,
    bits=st.integers(2, 24),
    full_scale_v=st.floats(0.1, 20.0),
    signed=st.booleans(),
    steps=st.sampled_from(STEPS),
    gain=st.floats(0.1, 200.0),
)


def ends(adc: Adc) -> tuple[int, int]:
    codes = 2**adc.bits
    return (-codes // 2, codes // 2 - 1) if adc.signed else (0, codes - 1)


@settings(deadline=None)
@given(ADCS, st.data())
def test_a_signed_code_read_as_unsigned_means_the_same(adc: Adc, data: st.DataObject) -> None:
    low, high = ends(adc)
    code = data.draw(st.integers(low, high))
    unsigned = code % 2**adc.bits
    assert adc.volts(unsigned) == adc.volts(code)
    assert adc.at_rail(unsigned) == adc.at_rail(code)


@settings(deadline=None)
@given(ADCS, st.data())
def test_only_the_end_codes_and_what_lies_beyond_are_at_the_rail(adc: Adc, data: st.DataObject) -> None:
    low, high = ends(adc)
    code = data.draw(st.integers(low, high))
    assert adc.at_rail(code) == (code in (low, high))
    assert adc.at_rail(low - 1)
    assert adc.at_rail(2**adc.bits)


@settings(deadline=None)
@given(ADCS.filter(lambda adc: adc.bits >= 3), st.floats(0.01, 0.99))
def test_an_average_with_end_codes_in_it_is_at_the_rail(adc: Adc, share: float) -> None:
    low, high = ends(adc)
    assert adc.at_rail(low + share)
    assert adc.at_rail(high - share)
    assert not adc.at_rail(low + 1 + share)
    assert not adc.at_rail(high - 1 - share)


@settings(deadline=None)
@given(ADCS, st.data())
def test_a_higher_code_is_a_higher_voltage(adc: Adc, data: st.DataObject) -> None:
    low, high = ends(adc)
    code = data.draw(st.integers(low, high - 1))
    assert adc.volts(code + 1) > adc.volts(code)


def test_volts_are_those_ahead_of_the_amplifier_or_divider() -> None:
    assert Adc(12, 4.096, gain=10.0).volts(1000.0) == pytest.approx(0.1)
    assert Adc(12, 4.096, gain=0.5).volts(1000.0) == pytest.approx(2.0)


def test_the_last_of_2_to_the_n_less_one_steps_is_full_scale() -> None:
    assert Adc(12, 5.0, steps="2^N-1").volts(4095.0) == pytest.approx(5.0)
    assert Adc(16, 2.048, signed=True, steps="2^N-1").volts(32767.0) == pytest.approx(2.048)


@pytest.mark.parametrize("bits", [-8, 0, 1, 33])
def test_bits_must_make_sense(bits: int) -> None:
    with pytest.raises(ValueError, match="2 to 32 bits"):
        Adc(bits, 5.0)


@pytest.mark.parametrize("full_scale_v", [0.0, -5.0, math.nan, math.inf])
def test_the_full_scale_must_be_above_zero(full_scale_v: float) -> None:
    with pytest.raises(ValueError, match="full scale"):
        Adc(12, full_scale_v)


@pytest.mark.parametrize("gain", [0.0, -1.0, math.nan, math.inf])
def test_the_gain_must_be_above_zero(gain: float) -> None:
    with pytest.raises(ValueError, match="gain"):
        Adc(12, 5.0, gain=gain)


@settings(deadline=None)
@given(st.floats(0.0, 1e6), st.floats(1.0, 1e6), st.floats(0.0, 4.0))
def test_a_divider_gives_back_the_voltage_ahead_of_it(top_ohm: float, bottom_ohm: float, volts: float) -> None:
    adc = Adc(12, 4.096, gain=divider_gain(top_ohm, bottom_ohm))
    at_the_pin = volts * bottom_ohm / (top_ohm + bottom_ohm)
    assert adc.volts(at_the_pin * 1000.0) == pytest.approx(volts, rel=1e-12)


@pytest.mark.parametrize(("top_ohm", "bottom_ohm"), [(-1.0, 1.0), (1.0, 0.0), (math.nan, 1.0), (1.0, math.inf)])
def test_resistors_of_a_divider_must_make_sense(top_ohm: float, bottom_ohm: float) -> None:
    with pytest.raises(ValueError, match="resistors of a divider"):
        divider_gain(top_ohm, bottom_ohm)
