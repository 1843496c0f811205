"""Converter codes against worked values of the ideal transfer functions."""

import pytest

from parchd.physics.adc import Adc

# Unipolar: V = code Vref / 2^N.
UNIPOLAR_STEP = [(10, 5.0, 4.8828e-3), (12, 3.3, 0.80566e-3), (12, 5.0, 1.2207e-3), (16, 5.0, 76.29e-6)]

# Signed 16 bits: FS / 2^15.
SIGNED_STEP = [(6.144, 187.5e-6), (4.096, 125e-6), (2.048, 62.5e-6), (1.024, 31.25e-6), (0.512, 15.625e-6),
               (0.256, 7.8125e-6)]  # fmt: skip

# Register 0x1A2C at three ranges, and the ends and negative numbers of the 6.144 V range.
SIGNED_CODES = [
    (0x1A2C, 6.144, 1.25625),
    (0x1A2C, 4.096, 0.8375),
    (0x1A2C, 2.048, 0.41875),
    (0x3FFF, 6.144, 3.0718125),
    (0x7FFF, 6.144, 6.1438125),
    (0xFFFF, 6.144, -187.5e-6),
    (0xFFF0, 6.144, -0.003),
    (0x8000, 6.144, -6.144),
    (-1, 6.144, -187.5e-6),
    (-16, 6.144, -0.003),
    (-32768, 6.144, -6.144),
]


@pytest.mark.parametrize(("bits", "full_scale_v", "step_v"), UNIPOLAR_STEP)
def test_one_step_of_a_unipolar_converter(bits: int, full_scale_v: float, step_v: float) -> None:
    assert Adc(bits, full_scale_v).volts(1.0) == pytest.approx(step_v, rel=1e-4)


@pytest.mark.parametrize(("full_scale_v", "step_v"), SIGNED_STEP)
def test_one_step_of_a_signed_converter(full_scale_v: float, step_v: float) -> None:
    assert Adc(16, full_scale_v, signed=True).volts(1.0) == pytest.approx(step_v, rel=1e-12)


@pytest.mark.parametrize(("code", "full_scale_v", "volts"), SIGNED_CODES)
def test_registers_of_a_signed_converter(code: float, full_scale_v: float, volts: float) -> None:
    assert Adc(16, full_scale_v, signed=True).volts(code) == pytest.approx(volts, abs=1e-9)


def test_full_scale_is_2_to_the_n_steps_or_one_less() -> None:
    assert Adc(10, 5.0).volts(512.0) == pytest.approx(2.5, abs=1e-12)
    assert Adc(10, 5.0, steps="2^N-1").volts(512.0) == pytest.approx(2.50244, abs=5e-6)
    assert Adc(12, 3.3).volts(2048.0) == pytest.approx(1.65, abs=1e-12)
    assert Adc(12, 3.3, steps="2^N-1").volts(2048.0) == pytest.approx(1.650403, abs=5e-7)
    assert Adc(12, 3.3).volts(4095.0) == pytest.approx(3.299194, abs=5e-7)
    assert Adc(12, 3.3, steps="2^N-1").volts(4095.0) == pytest.approx(3.3, abs=1e-12)


@pytest.mark.parametrize(
    ("adc", "code"),
    [(Adc(10, 5.0), 1023), (Adc(12, 3.3), 4095), (Adc(16, 5.0), 65535), (Adc(12, 3.3), 0)]
    + [(Adc(16, 6.144, signed=True), code) for code in (0x7FFF, 0x8000, -32768)],
)
def test_the_end_codes_are_no_values(adc: Adc, code: int) -> None:
    assert adc.at_rail(code)


def test_0xffff_is_minus_one_and_not_an_end_of_a_signed_converter() -> None:
    assert not Adc(16, 6.144, signed=True).at_rail(0xFFFF)
