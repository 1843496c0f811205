"""How much water a soil holds at a tension, and how fast it lets it through."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from parchd.physics.elementwise import clamped, sqrt
from parchd.units import KPA_PER, Quantity

KPA_PER_CM = KPA_PER["cmH2O"]
_LEAST_CM = 1e-12


@dataclass(frozen=True, slots=True)
class Retention:
    """Water held and conducted by one soil (van Genuchten 1980, SSSAJ 44:892, with Mualem's conductivity).

    Args:
        theta_r, theta_s: residual and saturated water content, m3/m3.
        alpha_per_cm: inverse of the tension at which the soil begins to empty, 1/cm.
        n: how steeply it empties, above 1.
        ks_cm_d: conductivity when saturated, cm/day.

    Raises:
        ValueError: an argument is out of its range.
    """

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    n: float
    ks_cm_d: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.theta_r < self.theta_s <= 1.0:
            raise ValueError(f"water contents must rise from 0 to 1, not from {self.theta_r:g} to {self.theta_s:g}")
        if not (0.0 < self.alpha_per_cm < math.inf and 1.0 < self.n < math.inf and 0.0 < self.ks_cm_d < math.inf):
            raise ValueError(f"alpha and Ks must be above 0 and n above 1, not {self}")

    @property
    def m(self) -> float:
        return 1.0 - 1.0 / self.n

    def theta(self, tension_kpa: Quantity) -> Quantity:
        """Give the water content; at and below zero tension it is the saturated one.

        Args:
            tension_kpa: positive when drier than saturation. NaN gives NaN.

        >>> round(SOILS["loam"].theta(33.0), 5)
        0.16445
        """
        filled: Quantity = self._saturation(tension_kpa)
        return self.theta_r + (self.theta_s - self.theta_r) * filled

    def tension_kpa(self, theta: float) -> float:
        """Give the tension at a water content: the inverse of `theta`.

        Args:
            theta: above ``theta_r``, at most ``theta_s``.

        Raises:
            ValueError: the soil never holds so much or so little.

        >>> round(SOILS["loam"].tension_kpa(0.20), 4)
        17.4596
        """
        if not self.theta_r < theta <= self.theta_s:
            raise ValueError(f"this soil holds more than {self.theta_r:g} and at most {self.theta_s:g}, not {theta:g}")
        saturation = (theta - self.theta_r) / (self.theta_s - self.theta_r)
        emptied: float = saturation ** (-1.0 / self.m) - 1.0
        scaled: float = emptied ** (1.0 / self.n)
        return scaled / self.alpha_per_cm * KPA_PER_CM

    def conductivity_cm_d(self, tension_kpa: Quantity) -> Quantity:
        """Give the conductivity at a tension, cm/day (Mualem 1976, pore connectivity 0.5).

        >>> round(SOILS["loam"].conductivity_cm_d(10.0), 5)
        0.03192
        """
        filled: Quantity = self._saturation(tension_kpa)
        share: Quantity = 1.0 - (1.0 - filled ** (1.0 / self.m)) ** self.m
        return self.ks_cm_d * sqrt(filled) * share * share

    def _saturation(self, tension_kpa: Quantity) -> Quantity:
        """Effective saturation, 0 to 1."""
        height_cm: Quantity = clamped(tension_kpa, 0.0, math.inf) / KPA_PER_CM + _LEAST_CM
        filled: Quantity = (1.0 + (self.alpha_per_cm * height_cm) ** self.n) ** -self.m
        return filled


SOILS: Mapping[str, Retention] = MappingProxyType(
    {
        "sand": Retention(0.045, 0.43, 0.145, 2.68, 712.8),
        "loamy sand": Retention(0.057, 0.41, 0.124, 2.28, 350.2),
        "sandy loam": Retention(0.065, 0.41, 0.075, 1.89, 106.1),
        "loam": Retention(0.078, 0.43, 0.036, 1.56, 24.96),
        "silt": Retention(0.034, 0.46, 0.016, 1.37, 6.00),
        "silt loam": Retention(0.067, 0.45, 0.020, 1.41, 10.80),
        "sandy clay loam": Retention(0.100, 0.39, 0.059, 1.48, 31.44),
        "clay loam": Retention(0.095, 0.41, 0.019, 1.31, 6.24),
        "silty clay loam": Retention(0.089, 0.43, 0.010, 1.23, 1.68),
        "sandy clay": Retention(0.100, 0.38, 0.027, 1.23, 2.88),
        "silty clay": Retention(0.070, 0.36, 0.005, 1.09, 0.48),
        "clay": Retention(0.068, 0.38, 0.008, 1.09, 4.80),
    }
)
"""Mean soil of each texture class (Carsel & Parrish 1988, Water Resour. Res. 24:755)."""
