import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.physics.flow import CupTension, total_head_m, vertical_flow

TENSIONS = st.floats(-5.0, 85.0)
SPACINGS = st.floats(0.1, 1.0)


@settings(deadline=None)
@given(TENSIONS, TENSIONS, SPACINGS, st.floats(0.0, 2.0))
def test_a_direction_is_told_only_beyond_the_uncertainty(
    shallow_kpa: float, deep_kpa: float, spacing_m: float, expanded_kpa: float
) -> None:
    shallow, deep = CupTension(0.3, shallow_kpa, expanded_kpa), CupTension(0.3 + spacing_m, deep_kpa, expanded_kpa)
    flow = vertical_flow(shallow, deep)
    if flow.direction in ("down", "up"):
        assert abs(flow.gradient) > flow.u_gradient
        assert (flow.gradient > 0.0) == (flow.direction == "down")
    elif flow.direction == "unclear":
        assert abs(flow.gradient) <= flow.u_gradient
    else:
        assert abs(flow.gradient) + flow.u_gradient <= 0.1


@settings(deadline=None)
@given(TENSIONS, TENSIONS, SPACINGS)
def test_water_goes_from_high_to_low_head(shallow_kpa: float, deep_kpa: float, spacing_m: float) -> None:
    difference = total_head_m(shallow_kpa, 0.3) - total_head_m(deep_kpa, 0.3 + spacing_m)
    flow = vertical_flow(CupTension(0.3, shallow_kpa), CupTension(0.3 + spacing_m, deep_kpa))
    assert flow.gradient == pytest.approx(difference / spacing_m, abs=1e-9)


@settings(deadline=None)
@given(TENSIONS, SPACINGS)
def test_equal_tensions_drain_under_gravity_alone(tension_kpa: float, spacing_m: float) -> None:
    flow = vertical_flow(CupTension(0.3, tension_kpa, 0.05), CupTension(0.3 + spacing_m, tension_kpa, 0.05))
    assert flow.gradient == pytest.approx(1.0, abs=1e-9)
    assert flow.direction == "down"


def test_equilibrium_known_well_is_no_flow_and_known_badly_is_unclear() -> None:
    shallow_kpa = 20.0 + 0.3 * 9.80665
    assert vertical_flow(CupTension(0.3, shallow_kpa), CupTension(0.6, 20.0)).direction == "none"
    assert vertical_flow(CupTension(0.3, shallow_kpa, 0.6), CupTension(0.6, 20.0, 0.6)).direction == "unclear"


@pytest.mark.parametrize("deep_m", [0.3, 0.2, float("nan")])
def test_the_deep_cup_must_be_deeper(deep_m: float) -> None:
    with pytest.raises(ValueError, match="a deep cup lies below"):
        vertical_flow(CupTension(0.3, 20.0), CupTension(deep_m, 20.0))
