import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Unit
from parchd_adapters.sim.soil import SOILS, SoilName, capacity, tension, water_content
from parchd_adapters.sim.transducer import Shape, Transducer, signal

# Water content at 10, 33, 80, 1500 kPa for the class means of Carsel & Parrish 1988, computed by two independent
# programs (pedon 0.1.0 and unsatfit 6.3), which agree.
CARSEL_PARRISH = {
    SoilName.SANDY_LOAM: (0.1209, 0.0845, 0.0739, 0.0657),
    SoilName.LOAM: (0.2406, 0.1644, 0.1309, 0.0883),
    SoilName.SILT_LOAM: (0.3282, 0.2389, 0.1882, 0.1036),
    SoilName.CLAY_LOAM: (0.3312, 0.2687, 0.2288, 0.1493),
}


@pytest.mark.parametrize("name", SoilName)
def test_water_content_agrees_with_independent_programs(name: SoilName) -> None:
    found = [water_content(SOILS[name], kpa) for kpa in (10, 33, 80, 1500)]
    assert found == pytest.approx(CARSEL_PARRISH[name], abs=5e-5)


def test_tension_agrees_with_an_independent_program() -> None:
    # pedon 0.1.0, loam: theta .25 -> 8.9104 kPa, .20 -> 17.4596, .15 -> 45.9815
    found = [tension(SOILS[SoilName.LOAM], theta) for theta in (0.25, 0.20, 0.15)]
    assert found == pytest.approx([8.9104, 17.4596, 45.9815], abs=1e-3)


@given(name=st.sampled_from(SoilName), kpa=st.floats(0.5, 1500))
def test_tension_is_the_inverse_of_water_content(name: SoilName, kpa: float) -> None:
    assert tension(SOILS[name], water_content(SOILS[name], kpa)) == pytest.approx(kpa, rel=1e-6)


@given(name=st.sampled_from(SoilName), kpa=st.floats(1, 500))
def test_capacity_is_the_slope_of_the_curve(name: SoilName, kpa: float) -> None:
    soil, step = SOILS[name], kpa * 1e-4
    slope = (water_content(soil, kpa - step) - water_content(soil, kpa + step)) / (2 * step)
    assert capacity(soil, kpa) == pytest.approx(slope, rel=1e-4)


def test_soil_without_free_water_is_never_wetter_than_saturated() -> None:
    soil = SOILS[SoilName.LOAM]
    assert water_content(soil, 0) == water_content(soil, -5) == soil.theta_s
    assert tension(soil, soil.theta_s) == 0
    with pytest.raises(ValueError, match="residual"):
        tension(soil, soil.theta_r)


@pytest.mark.parametrize(
    ("supply_v", "gauge_kpa", "volts"),
    # 10-90 % ratiometric, rising with vacuum: V = Vs (0.1 + 0.8 (-P) / 100)
    [(5, 0, 0.5), (5, -20, 1.3), (5, -40, 2.1), (5, -80, 3.7), (5, -100, 4.5), (3.3, 0, 0.33), (3.3, -100, 2.97)],
)
def test_a_ratiometric_transducer_shows_its_line(supply_v: float, gauge_kpa: float, volts: float) -> None:
    assert signal(Transducer(bits=24), gauge_kpa, supply_v) == pytest.approx(volts, abs=1e-6)


@pytest.mark.parametrize(
    ("gauge_kpa", "milliamps"), [(0, 4), (-25, 8), (-50, 12), (-75, 16), (-100, 20), (-200, 21), (50, 3.6)]
)
def test_a_current_loop_shows_its_line_and_stops_at_its_ends(gauge_kpa: float, milliamps: float) -> None:
    # I = 4 + 16 (-P) / 100 mA; a real transmitter saturates a little outside
    loop = Transducer(shape=Shape.CURRENT_LOOP, output=Unit.MA, bits=24)
    assert signal(loop, gauge_kpa, 0) == pytest.approx(milliamps, abs=1e-4)


def test_a_converter_shows_whole_steps_within_its_range() -> None:
    ten_bits = Transducer(bits=10, output=Unit.COUNTS)  # 10 bits of 5 V: 4.8828 mV each, code 512 at 2.5 V
    assert [signal(ten_bits, kpa, 5.0) for kpa in (-50.0, -50.05, -49.95)] == [512, 512, 511]
    assert signal(Transducer(bits=10, reference_v=3.3, output=Unit.COUNTS), -100, 5.0) == 1023
    assert signal(Transducer(bits=10), -50.2, 5.0) == 2.5048828125
    assert signal(Transducer(bits=10, output=Unit.MV), -50.2, 5.0) == 2504.8828125
