"""Units against pint, and pF against worked values."""

import pint
import pytest

from parchd.units import KPA_PER, from_kpa, pf, to_kpa

NAMES_IN_PINT = {"cbar": "centibar", "mH2O": "meter_H2O"}
UNITS_IN_PINT = sorted(set(KPA_PER) - {"J/kg"})


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry()


@pytest.mark.parametrize("unit", UNITS_IN_PINT)
def test_pint_agrees(unit: str, registry: pint.UnitRegistry[float]) -> None:
    theirs = registry.Quantity(37.5, NAMES_IN_PINT.get(unit, unit)).to("kPa").magnitude
    assert to_kpa(37.5, unit) == pytest.approx(theirs, rel=1e-6)
    assert from_kpa(theirs, unit) == pytest.approx(37.5, rel=1e-6)


def test_a_joule_per_kilogram_is_a_kilopascal_for_water_of_1000_kg_m3() -> None:
    # By definition: J/kg times kg/m3 is J/m3, which is Pa.
    assert to_kpa(33.0, "J/kg") == pytest.approx(33.0 * 1000.0 / 1000.0)


@pytest.mark.parametrize(("kpa", "centimetres"), [(10, 101.972), (33, 336.506), (60, 611.830), (1500, 15295.743)])
def test_conventional_centimetres_of_water(kpa: float, centimetres: float) -> None:
    # pint 0.25 and by hand: 1 kPa = 1 / 0.0980665 cm.
    assert from_kpa(kpa, "cmH2O") == pytest.approx(centimetres, abs=0.0005)


@pytest.mark.parametrize(
    ("kpa", "expected"), [(10.0, 2.0085), (33.0, 2.527), (1500.0, 4.185), (9.80665, 2.0), (31.01, 2.5), (1554.2, 4.2)]
)
def test_pf_is_the_logarithm_of_centimetres(kpa: float, expected: float) -> None:
    # log10(kPa / 0.0980665), by hand.
    assert pf(kpa) == pytest.approx(expected, abs=0.0005)
