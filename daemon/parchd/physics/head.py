"""The column of water between transducer and cup."""

import math

from parchd.physics.water import density_kg_m3
from parchd.units import Quantity

GRAVITY_M_S2 = 9.80665
"""Standard gravity; the real one differs by 0.3 % at most."""


def head_kpa(height_m: Quantity, water_c: Quantity | float) -> Quantity:
    """Give the pressure of a column of water, rho g h.

    Args:
        height_m: continuous water above the cup's centre: up to the transducer, or up to the water surface if there
            is air above it. Negative when the transducer lies below the cup.
        water_c: temperature of the water; see `density_kg_m3` for its range.

    Source: hydrostatics.

    >>> round(head_kpa(0.60, 20.0), 4)
    5.8734
    """
    return density_kg_m3(water_c) * GRAVITY_M_S2 * height_m / 1000.0


def tension_kpa(gauge_kpa: Quantity, height_m: Quantity | float, water_c: Quantity | float) -> Quantity:
    """Give the soil water tension at the cup from the pressure at the transducer.

    Args:
        gauge_kpa: pressure at the transducer relative to the air around it, negative for vacuum.
        height_m, water_c: see `head_kpa`.

    Returns:
        -gauge - rho g h: positive when the soil is drier than saturation, negative under free water, never clipped.

    Source: hydrostatics; the same relation in ASTM D3404 and ISO 11276.

    >>> round(tension_kpa(-30.0, 0.60, 20.0), 2)
    24.13
    >>> round(tension_kpa(-2.0, 0.60, 20.0), 2)
    -3.87
    """
    return tension_under_head_kpa(gauge_kpa, head_kpa(height_m, water_c))


def tension_under_head_kpa(gauge_kpa: Quantity, head_kpa: Quantity | float) -> Quantity:
    """Give `tension_kpa` where the pressure of the water column is known already.

    >>> tension_under_head_kpa(-30.0, 5.5)
    24.5
    """
    return 0.0 - gauge_kpa - head_kpa


def inclined_height_m(length_m: Quantity, angle_deg: float) -> Quantity:
    """Give the height that a sloping tube spans.

    Args:
        length_m: length along the tube from the cup's centre; negative when the transducer lies below the cup.
        angle_deg: slope of the tube against the horizontal, 0 to 90; 90 is upright.

    Raises:
        ValueError: the angle is outside 0 to 90 degrees.

    >>> round(inclined_height_m(1.0, 45.0), 4)
    0.7071
    """
    if not 0.0 <= angle_deg <= 90.0:
        raise ValueError(f"a tube stands between 0 and 90 degrees against the horizontal, not at {angle_deg:g}")
    return length_m * math.sin(math.radians(angle_deg))
