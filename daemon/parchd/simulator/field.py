"""The ground of a season: what the true tension at each cup was, and what water each zone was given."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from parchd.physics.retention import KPA_PER_CM, SOILS, Retention
from parchd.simulator.chance import stream
from parchd.simulator.crop import CROPS, roots, use_of
from parchd.simulator.farm import Farm
from parchd.simulator.farmer import COARSE, Farmer, Gift
from parchd.simulator.richards import Ground, Richards, Water, ground_of
from parchd.simulator.weather import SLOTS_PER_DAY, Weather

Floats = NDArray[np.float64]

THICKNESS_CM = np.array([4.0, 5.0, 6.0, 7.0, 8.0, 8.0, 8.0, 8.0, 9.0, 9.0, 10.0, 10.0, 10.0, 12.0, 14.0])
TICKS = 256
"""Parts of a slot: steps are powers of two of them."""
LONGEST = 4 * TICKS
EASY, HARD = 2, 5
TAKEN_AT_MOST_PER_D = 0.5
"""Roots empty what a cell still holds no faster than by this share a day: water comes to them too slowly."""
WILTS_CM = 12_000.0
DRY_RAIN = 0.15
"""Share of rain that reaches a station which is to run dry: it stands under a canopy."""
LAG_SLOTS = 40
PAN_CM, PAN_SHARE, PAN_KS_CM_D = 75.0, 0.15, 0.6
"""Depth of pans, how many stations have one, and what it lets through at least."""
CHECK_SLOTS = SLOTS_PER_DAY // 4


@dataclass(slots=True)
class Drought:
    """A station that misses its water until one of its cups has broken.

    Args:
        tensiometer: number of the one whose cup is to break.
        first: slot from which no water comes.
        break_kpa: tension at which the cup breaks.
        reached, ends: slots; unset while it lasts.
    """

    tensiometer: int
    first: int
    break_kpa: float
    reached: int | None = None
    ends: int | None = None

    def lasts(self, slot: int) -> bool:
        return slot >= self.first and (self.ends is None or slot < self.ends)


@dataclass(frozen=True, slots=True)
class Soil:
    """What became of the ground.

    Args:
        tension_kpa: at the end of each slot, of each cup; the first row is the start.
        gifts: irrigations.
        lost_share: how far the water balance is off, run-off and what stands on the ground counted, as a share of what
            came in.
    """

    tension_kpa: Floats
    gifts: tuple[Gift, ...]
    lost_share: float


def season_soils(farm: Farm) -> list[Retention]:
    """Draw the soil of each station around the mean soil of its zone's class."""
    random = stream(farm.plan.seed, "soil")
    return [_near(random, SOILS[name]) for name in farm.plan.soils for _ in range(farm.plan.stations)]


def season_ground(farm: Farm) -> Ground:
    """Make the columns of all stations; under some of them lies a pan that water stands on for a while."""
    ground = ground_of(season_soils(farm), THICKNESS_CM)
    random = stream(farm.plan.seed, "pan")
    stations = len(ground.ks_cm_d)
    tight = np.where(random.random(stations) < PAN_SHARE, random.uniform(0.02, 0.2, stations), 1.0)
    below = ground.centre_cm > PAN_CM
    least = np.minimum(ground.ks_cm_d, PAN_KS_CM_D)
    ground.ks_cm_d[:, below] = np.maximum(ground.ks_cm_d * tight[:, None], least)[:, below]
    return ground


def _near(random: np.random.Generator, soil: Retention) -> Retention:
    alpha, n, ks = np.exp(random.normal(0.0, (0.25, 0.12, 0.4)))
    return Retention(
        soil.theta_r, soil.theta_s, float(soil.alpha_per_cm * alpha), float(1.0 + max(soil.n - 1.0, 0.15) * n),
        float(max(soil.ks_cm_d * ks, 2.0)),
    )  # fmt: skip


class Field:
    """Runs the columns of all stations through a season."""

    def __init__(self, farm: Farm, weather: Weather, droughts: tuple[Drought, ...] = ()) -> None:
        plan = farm.plan
        self._farm, self._weather, self._droughts = farm, weather, droughts
        self._slots = plan.days * SLOTS_PER_DAY
        random = stream(plan.seed, "field")
        self._ground = season_ground(farm)
        self._richards = Richards(self._ground)
        self._stations = plan.stations * len(plan.soils)
        self._zone = np.arange(self._stations) // plan.stations
        self._even = random.uniform(0.7, 1.3, self._stations)
        crop = CROPS[plan.crop]
        depth = crop.root_m * random.uniform(0.85, 1.15, self._stations)
        self._roots = roots(self._ground, depth) / THICKNESS_CM
        use = use_of(crop, np.arange(self._slots) / self._slots)
        self._use_cm_d = weather.et_mm_d * use / 10.0
        self._suffers_cm = crop.suffers_kpa / KPA_PER_CM
        coarse = [name in COARSE for name in plan.soils]
        limit = [12.0 if is_coarse else crop.limit_kpa for is_coarse in coarse]
        least = farm.limit_kpa.min()
        limits = [float(min(one * random.uniform(0.8, 1.2), 0.5 * least)) for one in limit]
        self._farmer = Farmer(limits, coarse, self._slots, stream(plan.seed, "farmer"))
        self._morning = (6 - int(weather.hour[0])) % 24 * 4
        self._pick = _between_cells(self._ground.centre_cm, farm.depth_m * 100.0)

    def run(self) -> Soil:
        """Run the season."""
        out = np.empty((self._slots + 1, len(self._farm.names)))
        water = self._start()
        out[0] = self._cups(water.height_cm)
        held = (water.content * THICKNESS_CM).sum()
        tick, step, came = 0, TICKS, 0.0
        net, stands = 0.0, 0.0
        while tick < self._slots * TICKS:
            slot = tick // TICKS
            if tick % (CHECK_SLOTS * TICKS) == self._morning % CHECK_SLOTS * TICKS:
                self._look(slot, out)
            step = self._fitting(tick, step, water)
            days, given = step / TICKS / SLOTS_PER_DAY, self._given(slot, step, water)
            done = self._richards.step(water, days, *given)
            if done is None:
                if step == 1:
                    raise ArithmeticError(f"the soil's water cannot be followed at slot {slot}")
                step //= 2
                continue
            before = water
            water, flows, iterations = done
            net += float((flows.infiltrated_cm - flows.drained_cm - flows.taken_cm).sum())
            stands += float((given[0] * days - flows.infiltrated_cm - flows.ran_off_cm).sum())
            came += float(flows.infiltrated_cm.sum() + flows.taken_cm.sum())
            self._note(out, tick, step, before, water)
            tick += step
            if iterations <= EASY:
                step *= 2
            elif iterations > HARD and step > 1:
                step //= 2
        kept = float((self._richards.content(water.height_cm) * THICKNESS_CM).sum())
        lost = abs(kept - held - net) + abs(stands - float(water.pond_cm.sum()))
        return Soil(out, tuple(self._farmer.gifts), lost / max(came, 1e-9))

    def _start(self) -> Water:
        wet = stream(self._farm.plan.seed, "start").uniform(40.0, 120.0, (self._stations, 1))
        return self._richards.start(np.maximum(-wet - 0.1 * self._ground.centre_cm, -200.0))

    def _fitting(self, tick: int, step: int, water: Water) -> int:
        """Give the longest step that meets no change of rain and ends on a multiple of itself."""
        step = min(step, LONGEST)
        while tick % step:
            step //= 2
        if step > TICKS:
            first = tick // TICKS
            last = first + step // TICKS
            wet = self._weather.rain_mm_h[first:last].any() or self._farmer.rate_mm_h[first:last].any()
            if wet or water.pond_cm.any() or last > self._slots:
                return TICKS
        return step

    def _given(self, slot: int, step: int, water: Water) -> tuple[Floats, Floats]:
        """Give the water that reaches each station, cm/day, and what its roots take from each cell, 1/day."""
        thirsty = [drought for drought in self._droughts if drought.lasts(slot)]
        rain = self._weather.rain_mm_h[slot]
        irrigation = self._farmer.rate_mm_h[slot, self._zone] * self._even
        given = np.full(self._stations, rain) + irrigation
        for drought in thirsty:
            given[self._farm.station_of[drought.tensiometer]] = rain * DRY_RAIN
        demand = self._use_cm_d[min(slot + step // (2 * TICKS), self._slots - 1)]
        if demand <= 0.0:
            return given * 2.4, np.zeros_like(water.content)
        dry = -water.height_cm
        vigour = np.clip((WILTS_CM - dry) / (WILTS_CM - self._suffers_cm), 0.0, 1.0)
        left = np.maximum(water.content - self._ground.theta_r, 0.0) * TAKEN_AT_MOST_PER_D
        return given * 2.4, np.minimum(self._roots * vigour * demand, left)

    def _cups(self, height_cm: Floats) -> Floats:
        cell, share = self._pick
        rows = self._farm.station_of
        upper, lower = height_cm[rows, cell], height_cm[rows, cell + 1]
        tension: Floats = -(upper + (lower - upper) * share) * KPA_PER_CM
        return tension

    def _note(self, out: Floats, tick: int, step: int, before: Water, after: Water) -> None:
        """Write down what the cups felt at the ends of the slots that a step passed."""
        end = tick + step
        if end % TICKS:
            return
        last = self._cups(after.height_cm)
        slots = step // TICKS
        if slots > 1:
            first = self._cups(before.height_cm)
            share = np.arange(1, slots)[:, None] / slots
            out[tick // TICKS + 1 : end // TICKS] = first + (last - first) * share
        out[end // TICKS] = last

    def _look(self, slot: int, out: Floats) -> None:
        """Let the farmer look at the zones: each morning, and four times a day at those that are dry."""
        now = out[slot]
        farm = self._farm
        self._follow(slot, now)
        fed = np.ones(len(now), dtype=np.bool_)
        for drought in self._droughts:
            if drought.lasts(slot):
                fed &= farm.station_of != farm.station_of[drought.tensiometer]
        morning = slot % SLOTS_PER_DAY == self._morning
        used = float(self._use_cm_d[max(slot - SLOTS_PER_DAY, 0) : slot + 1].mean()) * 10.0
        for zone in range(len(farm.plan.soils)):
            mine = fed & (farm.zone_of == zone)
            if not mine.any():
                mine = farm.zone_of == zone
            shallow = mine & (farm.depth_m == farm.depth_m.min())
            worst = float((now[mine] / farm.limit_kpa[mine]).max())
            mean = float(now[shallow].mean()) if morning else 0.0
            self._farmer.look(slot, zone, mean, worst, used)

    def _follow(self, slot: int, now: Floats) -> None:
        for drought in self._droughts:
            if drought.reached is None and drought.lasts(slot) and now[drought.tensiometer] > drought.break_kpa + 3.0:
                drought.reached = slot
                drought.ends = slot + LAG_SLOTS


def _between_cells(centre_cm: Floats, depth_cm: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Give the cell above each depth, and the share of the way to the next."""
    cell = np.clip(np.searchsorted(centre_cm, depth_cm) - 1, 0, len(centre_cm) - 2)
    share: Floats = (depth_cm - centre_cm[cell]) / (centre_cm[cell + 1] - centre_cm[cell])
    return cell, share
