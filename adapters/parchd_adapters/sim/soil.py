"""Water content and tension of a soil (van Genuchten 1980, Soil Sci. Soc. Am. J. 44:892)."""

from dataclasses import dataclass
from enum import StrEnum

CM_PER_KPA = 10.19716213  # conventional centimetres of water


class SoilName(StrEnum):
    SANDY_LOAM = "sandy-loam"
    LOAM = "loam"
    SILT_LOAM = "silt-loam"
    CLAY_LOAM = "clay-loam"


@dataclass(frozen=True, slots=True)
class Soil:
    """Parameters of one soil.

    Args:
        theta_r, theta_s: residual and saturated water content, m3/m3.
        alpha_per_cm: inverse of the air entry head.
        n: shape, above 1.
    """

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    n: float

    @property
    def m(self) -> float:
        return 1 - 1 / self.n


# Class means of Carsel & Parrish 1988, Water Resour. Res. 24:755.
SOILS = {
    SoilName.SANDY_LOAM: Soil(0.065, 0.41, 0.075, 1.89),
    SoilName.LOAM: Soil(0.078, 0.43, 0.036, 1.56),
    SoilName.SILT_LOAM: Soil(0.067, 0.45, 0.020, 1.41),
    SoilName.CLAY_LOAM: Soil(0.095, 0.41, 0.019, 1.31),
}


def water_content(soil: Soil, tension_kpa: float) -> float:
    """Return the water content at a tension; saturated at zero and below.

    >>> round(water_content(SOILS[SoilName.LOAM], 33.0), 4)
    0.1644
    """
    if tension_kpa <= 0:
        return soil.theta_s
    wetness: float = (1 + (soil.alpha_per_cm * tension_kpa * CM_PER_KPA) ** soil.n) ** -soil.m
    return soil.theta_r + (soil.theta_s - soil.theta_r) * wetness


def tension(soil: Soil, theta: float) -> float:
    """Return the tension in kPa at a water content; the inverse of `water_content`.

    >>> round(tension(SOILS[SoilName.LOAM], 0.20), 4)
    17.4596

    Raises:
        ValueError: the soil cannot be as dry as that.
    """
    if theta >= soil.theta_s:
        return 0.0
    if theta <= soil.theta_r:
        raise ValueError(f"water content {theta} is not above the residual {soil.theta_r}")
    wetness = (theta - soil.theta_r) / (soil.theta_s - soil.theta_r)
    return float((wetness ** (-1 / soil.m) - 1) ** (1 / soil.n) / soil.alpha_per_cm / CM_PER_KPA)


def capacity(soil: Soil, tension_kpa: float) -> float:
    """Return how much water content falls for each kPa of tension, 1/kPa.

    >>> soil = SOILS[SoilName.LOAM]
    >>> slope = (water_content(soil, 29.99) - water_content(soil, 30.01)) / 0.02
    >>> abs(capacity(soil, 30.0) / slope - 1) < 1e-6
    True
    """
    alpha = soil.alpha_per_cm * CM_PER_KPA
    x = alpha * tension_kpa
    span = soil.theta_s - soil.theta_r
    return float(span * soil.m * soil.n * alpha * x ** (soil.n - 1) * (1 + x**soil.n) ** (-soil.m - 1))
