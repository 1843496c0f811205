"""Total head at two depths, and which way water moves between them."""

import math
from dataclasses import dataclass
from typing import Literal

from parchd.units import KPA_PER, Quantity

KPA_PER_M = KPA_PER["mH2O"]
"""Pressure of a metre of water, by convention: heads here are metres of it."""

NO_FLOW = 0.1
"""A gradient within a tenth of gravity's counts as none, if it is known that well."""

Direction = Literal["down", "up", "none", "unclear"]


@dataclass(frozen=True, slots=True)
class CupTension:
    """Tension at one depth of a station.

    Args:
        depth_m: of the cup's centre below the surface of the soil.
        tension_kpa: at the cup, head correction done: the columns of two depths differ.
        expanded_kpa: its expanded uncertainty (k = 2).
    """

    depth_m: float
    tension_kpa: float
    expanded_kpa: float = 0.0


@dataclass(frozen=True, slots=True)
class Flow:
    """Which way water moves.

    Args:
        gradient: metres of head for each metre of depth; 1 is drainage under gravity alone, 0 is equilibrium.
        u_gradient: its expanded uncertainty (k = 2).
        direction: "down", "up", "none" (equilibrium), or "unclear".
    """

    gradient: float
    u_gradient: float
    direction: Direction


def total_head_m(tension_kpa: Quantity, depth_m: Quantity | float) -> Quantity:
    """Give the total head above the surface of the soil: water moves from high to low.

    Args:
        tension_kpa: at the cup.
        depth_m: of the cup below the surface.

    Source: H = psi / (rho g) + z, z counted upwards from the surface.

    >>> round(total_head_m(20.0, 0.30), 4)
    -2.3394
    """
    return 0.0 - tension_kpa / KPA_PER_M - depth_m


def vertical_flow(shallow: CupTension, deep: CupTension) -> Flow:
    """Tell which way water moves between two depths; how fast it does nobody knows without the soil's conductivity.

    Water rises only where the shallow tension exceeds the deep one by more than rho g dz, 0.98 kPa for 10 cm.
    The direction is "unclear" where the gradient is smaller than its uncertainty, unless both are so small that there
    is no flow to speak of ("none": within a tenth of gravity). Depths count as exact: near equilibrium an error of
    1 cm in 30 moves the gradient by 0.03 only.

    Args:
        shallow, deep: both with their uncertainties; those of the two depths are independent.

    Raises:
        ValueError: the deep one is not deeper.

    Source: Darcy and Buckingham, q = -K dH/dz; gradient = (H shallow - H deep) / (z shallow - z deep).

    >>> vertical_flow(CupTension(0.30, 50.0, 0.6), CupTension(0.60, 30.0, 0.6)).direction
    'up'
    """
    spacing_m = deep.depth_m - shallow.depth_m
    if not spacing_m > 0.0:
        raise ValueError(f"a deep cup lies below a shallow one, not at {deep.depth_m:g} m and {shallow.depth_m:g} m")
    rise_m = total_head_m(shallow.tension_kpa, shallow.depth_m) - total_head_m(deep.tension_kpa, deep.depth_m)
    gradient = rise_m / spacing_m
    u_gradient = math.hypot(shallow.expanded_kpa, deep.expanded_kpa) / (KPA_PER_M * spacing_m)
    return Flow(gradient, u_gradient, _direction(gradient, u_gradient))


def _direction(gradient: float, u_gradient: float) -> Direction:
    if abs(gradient) + u_gradient <= NO_FLOW:
        return "none"
    if not abs(gradient) > u_gradient:
        return "unclear"
    return "down" if gradient > 0.0 else "up"
