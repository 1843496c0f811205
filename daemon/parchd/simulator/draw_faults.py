"""Faults drawn at random for a farm."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind as K
from parchd.simulator.farm import Farm
from parchd.simulator.farmer import COARSE
from parchd.simulator.plan import FaultPlan

OWN = (
    K.LOST_WATER, K.AIR_ENTRY, K.AIR_LEAK, K.CRACKED_CUP, K.SLOW_RESPONSE, K.POOR_CONTACT, K.LEVEL_SHIFT, K.ZERO_DRIFT,
    K.STUCK_VALUE, K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED, K.SILENT_CHANNEL, K.SWAPPED, K.BLOCKED_VENT,
    K.BYTE_ORDER, K.WRONG_UNIT,
)  # fmt: skip
"""Faults of one tensiometer."""
SHARED = (K.NOISY_SUPPLY, K.DROP_OUTS, K.SILENT_SOURCE, K.WRONG_CLOCK)
"""Faults of a whole gateway."""
FROST = (K.FROST_RISK, K.FROZEN)
NEED_DRYING = frozenset({K.AIR_LEAK, K.SLOW_RESPONSE, K.POOR_CONTACT, K.AIR_ENTRY})
"""They show only where soil dries between waterings: near the surface, not on sands that get a little each day."""
WIRES, PRESSURES = frozenset({K.OPEN_CIRCUIT, K.SHORT_CIRCUIT, K.SATURATED}), frozenset({K.WRONG_UNIT})
"""Some show on wires only, some only where the device sends a pressure: not both on one gateway."""
FROM_START = frozenset({K.SWAPPED, K.BYTE_ORDER, K.WRONG_UNIT})
_DAYS = {
    K.STUCK_VALUE: (2.0, 20.0), K.SILENT_CHANNEL: (1.0, 10.0), K.OPEN_CIRCUIT: (0.3, 10.0),
    K.SHORT_CIRCUIT: (0.3, 10.0), K.SATURATED: (0.3, 10.0), K.NOISY_SUPPLY: (3.0, 20.0),
    K.DROP_OUTS: (10.0, 60.0), K.SILENT_SOURCE: (0.5, 6.0), K.WRONG_CLOCK: (1.0, 20.0),
}  # fmt: skip
"""How many days such a fault may last, where it does not last for ever."""
SHARE_FAULTY, SHARE_SHARED, SHARE_PASSING = 0.29, 0.6, 0.5
"""Planned faults for each tensiometer: with those exchanged, which are two, hardly a third go wrong."""
MOST_IN_ZONE = 2
"""Neighbours must mostly be sound, as on farms."""
EARLIEST, LATEST = 0.2, 0.8


@dataclass(frozen=True, slots=True)
class Faults:
    """Faults of a season, and what they need to show.

    Args:
        plans: the faults.
        sources: the gateway that each belongs to.
    """

    plans: tuple[FaultPlan, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def needs_air(self) -> bool:
        return any(plan.kind is K.BLOCKED_VENT for plan in self.plans)

    def needs_rails(self, source: str) -> bool:
        return self._has(source, K.SATURATED)

    def needs_wires(self, source: str) -> bool:
        return self._has(source, *WIRES)

    def needs_pressure(self, source: str) -> bool:
        return self._has(source, *PRESSURES)

    def _has(self, source: str, *kinds: K) -> bool:
        return any(plan.kind in kinds and its == source for plan, its in zip(self.plans, self.sources, strict=True))


def draw_faults(random: np.random.Generator, farm: Farm, *, frosty: bool) -> Faults:
    """Draw faults: two tensiometers of a zone have one of their own at most, and one gateway may have one.

    Args:
        frosty: one gateway lies where frost comes, and has no other fault.
    """
    plans: list[FaultPlan] = []
    sources: list[str] = []
    free = list(range(len(farm.names)))
    for kind in _wanted(random, len(free)):
        against = WIRES if kind in PRESSURES else PRESSURES if kind in WIRES else frozenset()
        taken = {source for plan, source in zip(plans, sources, strict=True) if plan.kind in against}
        row = _row(random, farm, [row for row in free if farm.source_of(row) not in taken], kind)
        if row is None:
            continue
        for one in _station(farm, row) if kind is K.SWAPPED else [row]:
            free.remove(one)
        free = _of_open_zones(farm, free)
        plans.append(_plan(random, farm, kind, f"tensiometer/{farm.names[row]}"))
        sources.append(farm.source_of(row))
    if frosty or random.random() < SHARE_SHARED:
        source = str(random.choice(farm.plan.sources))
        kind = FROST[random.integers(2)] if frosty else SHARED[random.integers(len(SHARED))]
        plans.append(_plan(random, farm, kind, f"source/{source}"))
        sources.append(source)
    return Faults(tuple(plans), tuple(sources))


def _wanted(random: np.random.Generator, most: int) -> list[K]:
    """Draw kinds; those that do not fit everywhere come first."""
    kinds = [OWN[number] for number in random.permutation(len(OWN))]
    wanted = kinds[: int(random.binomial(most, SHARE_FAULTY))]
    return sorted(wanted, key=lambda kind: (kind is not K.SWAPPED, kind not in PRESSURES, kind not in NEED_DRYING))


def _of_open_zones(farm: Farm, free: list[int]) -> list[int]:
    """Leave out the zones in which enough went wrong."""
    sound = Counter(int(farm.zone_of[row]) for row in free)
    of_zone = Counter(farm.zone_of.tolist())
    return [row for row in free if of_zone[zone := int(farm.zone_of[row])] - sound[zone] < MOST_IN_ZONE]


def _row(random: np.random.Generator, farm: Farm, free: list[int], kind: K) -> int | None:
    """Take a tensiometer that has no fault yet and can show this one; two where two are exchanged."""
    fit = [row for row in free if _fits(farm, free, row, kind)]
    if not fit:
        return None
    return int(random.choice(fit))


def _fits(farm: Farm, free: list[int], row: int, kind: K) -> bool:
    shallow = farm.depth_m[row] == farm.depth_m.min()
    if kind in NEED_DRYING and farm.plan.soils[int(farm.zone_of[row])] in COARSE:
        return False
    if kind in NEED_DRYING and not shallow:
        return False
    if kind is K.SWAPPED:
        return bool(shallow) and all(other in free for other in _station(farm, row))
    return True


def _station(farm: Farm, row: int) -> list[int]:
    """The two topmost tensiometers of a station."""
    return [int(other) for other in np.flatnonzero(farm.station_of == farm.station_of[row])[:2]]


def _plan(random: np.random.Generator, farm: Farm, kind: K, target: str) -> FaultPlan:
    days = farm.plan.days
    share = random.uniform(EARLIEST, LATEST)
    if kind in FROST:
        share = random.uniform(0.02, 0.15)
    elif kind in FROM_START and random.random() < 0.2:
        share = 0.0
    elif kind is K.AIR_ENTRY:
        share = random.uniform(EARLIEST, 0.65)
    onset_us = farm.plan.start_us + int(share * days * 86_400) * US_PER_S
    lasting = _DAYS.get(kind)
    for_s = None
    if lasting is not None and random.random() < SHARE_PASSING:
        for_s = float(np.exp(random.uniform(*np.log(lasting)))) * 86_400.0
    return FaultPlan(kind, target, onset_us, float(random.random()), for_s)
