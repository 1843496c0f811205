"""What grows, how deep it roots, how it uses water, and when the farmer gives it some."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from parchd.simulator.richards import Ground

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Crop:
    """One crop.

    Args:
        root_m: depth of its roots.
        use: share of the potential evapotranspiration, at the start, in the middle and at the end of the season.
        limit_kpa: mean tension in the upper root zone at which the farmer waters it on soils that are not coarse.
        suffers_kpa: tension from which it takes up less.
    """

    root_m: float
    use: tuple[float, float, float]
    limit_kpa: float
    suffers_kpa: float = 60.0


CROPS: Mapping[str, Crop] = MappingProxyType(
    {
        "alfalfa": Crop(1.2, (0.6, 1.1, 1.0), 60.0),
        "tomatoes": Crop(0.8, (0.4, 1.1, 0.7), 40.0),
        "potatoes": Crop(0.6, (0.4, 1.1, 0.7), 35.0),
        "onions": Crop(0.5, (0.5, 1.0, 0.7), 25.0),
        "strawberries": Crop(0.4, (0.4, 0.85, 0.75), 18.0),
        "lettuce": Crop(0.5, (0.6, 1.0, 0.9), 35.0),
        "maize": Crop(1.0, (0.4, 1.15, 0.6), 50.0),
        "apples": Crop(1.1, (0.5, 1.0, 0.8), 50.0),
        "citrus": Crop(1.2, (0.65, 0.7, 0.7), 40.0),
        "grapes": Crop(1.2, (0.35, 0.8, 0.5), 60.0),
    }
)
"""Limits lie in the ranges of Taylor & Ashcroft (1972); use follows the shape of FAO-56."""


def use_of(crop: Crop, share_of_season: Floats) -> Floats:
    """Give the share of the potential evapotranspiration through the season."""
    start, middle, end = crop.use
    use: Floats = np.interp(share_of_season, (0.0, 0.15, 0.4, 0.75, 1.0), (start, start, middle, middle, end))
    return use


def roots(ground: Ground, depth_m: Floats) -> Floats:
    """Give the share of its water that each cell gives; columns by cells, a sum of one in each column.

    Args:
        depth_m: of the roots of each column.
    """
    depth_cm = 100.0 * depth_m[:, None]
    share = np.exp(-2.2 * ground.centre_cm / depth_cm) * (ground.centre_cm < 1.1 * depth_cm) * ground.thickness_cm
    total: Floats = share / share.sum(axis=1, keepdims=True)
    return total
