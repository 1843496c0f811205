"""Linear drift from one calibration to the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from parchd.physics.calibration.curve import Fit
from parchd.physics.elementwise import clamped, sqrt
from parchd.units import Quantity

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray


def drift_weight(time_us: Quantity, begin_us: int, end_us: int) -> Quantity:
    """Give how much the later of two calibrations counts at a time between them: 0 at its begin, 1 at its end.

    >>> drift_weight(250.0, 0, 1000)
    0.25
    """
    return clamped((time_us - begin_us) / (end_us - begin_us), 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Blend:
    """Two calibrations, mixed by time: whatever changed between them is taken to have changed evenly.

    Args:
        before, after: the two calibrations.
        weight: of the later one, 0 to 1; an array gives each reading its own.
    """

    before: Fit
    after: Fit
    weight: float | NDArray[float64]

    @property
    def dof(self) -> float:
        """The fewer degrees of freedom of the two: on the safe side of what Welch and Satterthwaite would give."""
        return min(self.before.dof, self.after.dof)

    @property
    def slope(self) -> float:
        """The smaller slope of the two, on the safe side where something is divided by it."""
        return min(self.before.slope, self.after.slope)

    @property
    def span(self) -> tuple[float, float]:
        """Where both have points."""
        low, high = zip(self.before.span, self.after.span, strict=True)
        return max(low), min(high)

    def reference_kpa(self, indicated: Quantity) -> Quantity:
        """Give the pressure that belongs to an indication.

        >>> from parchd.physics.calibration.curve import straight
        >>> blend(straight(0.0, 1.0), straight(1.0, 1.0), 0.25).reference_kpa(-39.75)
        -40.0
        """
        early, late = self.before.reference_kpa(indicated), self.after.reference_kpa(indicated)
        weight: Any = self.weight
        mixed: Quantity = early + weight * (late - early)
        return mixed

    def u_kpa(self, indicated: Quantity, m: int = 1) -> Quantity:
        """Give the standard uncertainty of `reference_kpa`; see `Fit.u_kpa`.

        The reading's own noise is one and the same on both curves; the errors of the curves are independent.
        """
        early, late = self.before.u_parts(indicated, m), self.after.u_parts(indicated, m)
        weight: Any = self.weight
        rest = 1.0 - weight
        noise: Quantity = rest * early[0] + weight * late[0]
        before: Quantity = rest * early[1]
        after: Quantity = weight * late[1]
        return sqrt(noise * noise + before * before + after * after)


def blend(before: Fit, after: Fit, weight: float | NDArray[float64]) -> Blend:
    """Mix two calibrations; see `drift_weight`.

    Raises:
        ValueError: a weight outside 0 to 1.
    """
    if isinstance(weight, float | int) and not 0.0 <= weight <= 1.0:
        raise ValueError(f"a weight lies between 0 and 1, not at {weight:g}")
    return Blend(before, after, weight)
