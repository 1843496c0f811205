"""Water moving in columns of soil: the Richards equation in one dimension, many columns at once.

Mixed form, backward Euler, modified Picard iterations (Celia, Bouloutas & Zarba 1990, Water Resour. Res. 26:1483).
Heights in cm (negative: drier than saturation), time in days, fluxes in cm/day, positive downwards. Cells do not keep
the water content of their pressure, but what the fluxes left in them: the balance closes to rounding, and the next
step takes the small difference back.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from parchd.physics.retention import Retention

Floats = NDArray[np.float64]

STORAGE_PER_CM = 1e-4
"""Water that a saturated cell takes for each cm of pressure: trapped air, and what keeps the system solvable."""
ENTRY_CM = 2.0
"""Conductivity is capped from this tension on: without, that of clays falls by decades between 0 and 1 cm."""
MOST_ITERATIONS = 14
SETTLED_CM, SETTLED_SHARE = 0.5, 0.02
"""Iterations end when no pressure changes by more: what is left open is taken up in the next step."""
DRY_CM, WETTED_SHARE = 20.0, 0.75
"""A dry cell's tension falls by no more than this share in one iteration: its capacity grows by decades on the way."""
WILD_CM = 1e9
_LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Ground:
    """Soil of each cell; arrays of columns by cells, cells from the top down.

    Args:
        thickness_cm: of the cells, the same in all columns.
        theta_r, theta_s, alpha_per_cm, n, ks_cm_d: see `Retention`.
        entry_cm: see `ENTRY_CM`; 0: plain Mualem.
    """

    thickness_cm: Floats
    theta_r: Floats
    theta_s: Floats
    alpha_per_cm: Floats
    n: Floats
    ks_cm_d: Floats
    entry_cm: float = ENTRY_CM

    @property
    def centre_cm(self) -> Floats:
        """Depth of each cell's centre."""
        centre: Floats = np.cumsum(self.thickness_cm) - self.thickness_cm / 2.0
        return centre


def ground_of(soils: list[Retention], thickness_cm: Floats, entry_cm: float = ENTRY_CM) -> Ground:
    """Make columns that are the same from top to bottom."""
    shape = (len(soils), len(thickness_cm))

    def spread(values: list[float]) -> Floats:
        return np.broadcast_to(np.array(values)[:, None], shape).copy()

    return Ground(
        thickness_cm,
        theta_r=spread([soil.theta_r for soil in soils]),
        theta_s=spread([soil.theta_s for soil in soils]),
        alpha_per_cm=spread([soil.alpha_per_cm for soil in soils]),
        n=spread([soil.n for soil in soils]),
        ks_cm_d=spread([soil.ks_cm_d for soil in soils]),
        entry_cm=entry_cm,
    )


@dataclass(frozen=True, slots=True)
class Water:
    """State of the columns.

    Args:
        height_cm: pressure of each cell; columns by cells.
        content: water in each cell, m3/m3, as the fluxes left it.
        pond_cm: water that stands on each column.
    """

    height_cm: Floats
    content: Floats
    pond_cm: Floats


@dataclass(frozen=True, slots=True)
class Flows:
    """What crossed the ends of the columns in one step, cm."""

    infiltrated_cm: Floats
    drained_cm: Floats
    taken_cm: Floats
    ran_off_cm: Floats


class Richards:
    """Steps columns forward."""

    def __init__(self, ground: Ground, *, free_drainage: bool = True, pond_most_cm: float = 1.5) -> None:
        self.ground = ground
        self._pond_most_cm = pond_most_cm
        self._m = 1.0 - 1.0 / ground.n
        self._room = ground.theta_s - ground.theta_r
        self._slope = self._room * self._m * ground.n * ground.alpha_per_cm
        self._between_cm = (ground.thickness_cm[1:] + ground.thickness_cm[:-1]) / 2.0
        self._drains = 1.0 if free_drainage else 0.0
        self._scale = ground.ks_cm_d.copy()
        if ground.entry_cm > 0.0:
            self._scale = ground.ks_cm_d * ground.ks_cm_d / self._curves(np.full(ground.n.shape, -ground.entry_cm))[2]
        columns, cells = ground.n.shape
        self._matrix = np.zeros((columns, cells, cells))
        flat = self._matrix.reshape(columns, cells * cells)
        self._middle, self._upper = flat[:, :: cells + 1], flat[:, 1 :: cells + 1]
        self._lower = flat[:, cells :: cells + 1]

    def start(self, height_cm: Floats) -> Water:
        """Give the state at these pressures, nothing standing on top."""
        return Water(height_cm.copy(), self._curves(height_cm)[0], np.zeros(len(height_cm)))

    def content(self, height_cm: Floats) -> Floats:
        """Give the water content that belongs to pressures."""
        return self._curves(height_cm)[0]

    def step(self, water: Water, days: float, rain_cm_d: Floats, sink_per_d: Floats) -> tuple[Water, Flows, int] | None:
        """Give the state after a step, the flows, and the iterations it took; ``None``: the step is too long.

        Args:
            rain_cm_d: water given to the top of each column.
            sink_per_d: water taken out of each cell, m3/m3 and day.
        """
        thickness = self.ground.thickness_cm
        half_top_cm = thickness[0] / 2.0
        height = water.height_cm.copy()
        offered = rain_cm_d + water.pond_cm / days
        for iteration in range(1, MOST_ITERATIONS + 1):
            content, capacity, k = self._curves(height)
            between = 0.5 * (k[:, 1:] + k[:, :-1]) / self._between_cm
            gravity = between * self._between_cm
            most = self.ground.ks_cm_d[:, 0] * (1.0 - height[:, 0] / half_top_cm)
            flooded = offered > most
            top = np.where(flooded, most, offered)
            down = gravity - between * (height[:, 1:] - height[:, :-1])
            out = k[:, -1] * self._drains
            net = np.empty_like(height)
            net[:, 0] = top - down[:, 0]
            net[:, 1:-1] = down[:, :-1] - down[:, 1:]
            net[:, -1] = down[:, -1] - out
            wanted = net / thickness - sink_per_d - (content - water.content) / days
            self._lower[:] = -between / thickness[1:]
            self._upper[:, : between.shape[1]] = -between / thickness[:-1]
            self._middle[:] = capacity / days
            self._middle[:, :-1] += between / thickness[:-1]
            self._middle[:, 1:] += between / thickness[1:]
            self._middle[:, 0] += np.where(flooded, self.ground.ks_cm_d[:, 0] / half_top_cm / thickness[0], 0.0)
            change = np.linalg.solve(self._matrix, wanted[:, :, None])[:, :, 0]
            if not np.abs(change).max() < WILD_CM:
                return None
            change = np.minimum(change, np.where(height < -DRY_CM, -WETTED_SHARE * height, WILD_CM))
            height += change
            if (np.abs(change) < SETTLED_CM + SETTLED_SHARE * np.abs(height)).all():
                top = np.where(flooded, top - self.ground.ks_cm_d[:, 0] / half_top_cm * change[:, 0], offered)
                return self._done(
                    water, height, change, top, between, down, out, days, rain_cm_d, sink_per_d, iteration
                )
        return None

    def _done(
        self, water: Water, height: Floats, change: Floats, top: Floats, between: Floats, down: Floats, out: Floats,
        days: float, rain_cm_d: Floats, sink_per_d: Floats, iteration: int,
    ) -> tuple[Water, Flows, int]:  # fmt: skip
        """Book the flows of the last iteration: what they leave is the content."""
        down = down - between * (change[:, 1:] - change[:, :-1])
        thickness = self.ground.thickness_cm
        gain = np.empty_like(height)
        gain[:, 0] = top - down[:, 0]
        gain[:, 1:-1] = down[:, :-1] - down[:, 1:]
        gain[:, -1] = down[:, -1] - out
        content = water.content + days * (gain / thickness - sink_per_d)
        pond = np.maximum(water.pond_cm + days * (rain_cm_d - top), 0.0)
        ran_off = np.maximum(pond - self._pond_most_cm, 0.0)
        flows = Flows(top * days, out * days, (sink_per_d * thickness).sum(axis=1) * days, ran_off)
        return replace(water, height_cm=height, content=content, pond_cm=pond - ran_off), flows, iteration

    def _curves(self, height_cm: Floats) -> tuple[Floats, Floats, Floats]:
        """Give content, its slope over pressure, and conductivity."""
        ground, m = self.ground, self._m
        scaled = np.maximum(-height_cm * ground.alpha_per_cm, _LEAST)
        emptied = scaled**ground.n
        log = np.log1p(emptied)
        filled = np.exp(-m * log)
        content = ground.theta_r + self._room * filled + STORAGE_PER_CM * np.maximum(height_cm, 0.0)
        slope = self._slope * (emptied / scaled) * filled / (1.0 + emptied) + STORAGE_PER_CM * (height_cm > 0.0)
        share = -np.expm1(-m * (np.log1p(emptied) - np.log(emptied)))
        k = np.minimum(self._scale * np.sqrt(filled) * share * share, ground.ks_cm_d)
        return content, slope, k
