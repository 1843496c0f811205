"""The vacuum in the tubes, moment by moment: what cups, leaks, cracks and gaps make of the soil's tension."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from parchd.simulator.grid import Grid

Floats = NDArray[np.float64]
Rows = NDArray[np.bool_]

DRY_KPA = 25.0
"""Around this tension soil at a cup lets water through half as fast as the cup itself."""
CHOKED_KPA = 20.0
SOUND_KPA = 1e6
"""No cup is ever asked to hold so much."""


@dataclass(frozen=True)
class Tubes:
    """All that acts on the tubes; arrays of moments by tensiometers unless said otherwise.

    Args:
        soil_kpa: true tension at the cups.
        head_kpa: of each tensiometer's water.
        tau_s: response of each in wet soil.
        break_kpa: tension at which each cup lets air in.
        hold_h, drop_share, fade_h: of each, when its cup breaks: how long the rise flattens before, what is left of the
            vacuum, and how fast that goes.
        slow_s: added to the response.
        leak_per_h: how fast air flows in: the inverse of the time in which the vacuum goes.
        choked_h: of each, its response at `CHOKED_KPA` if it leaks: drier soil makes less good for it.
        crack_kpa: tension above which the cup cannot hold; NaN: sound.
        lose_h: time in which a column that was lost lets the vacuum go; NaN: the column stands.
        gap_share: share of the soil's drying that a cup without contact follows; NaN: contact is good.
        gap_lag_h: of each.
        open_: whether a tube stands open.
        settle_s: added to the response after a service.
        ice_kpa: tension at which ice holds it; NaN: no ice. Infinite: as it was.
        refilled: moments at which a tube was filled anew: a column that was lost, or a cup that broke, works again.
    """

    grid: Grid
    soil_kpa: Floats
    head_kpa: Floats
    tau_s: Floats
    break_kpa: Floats
    hold_h: Floats
    drop_share: Floats
    fade_h: Floats
    slow_s: Floats | None = None
    leak_per_h: Floats | None = None
    choked_h: Floats | None = None
    crack_kpa: Floats | None = None
    lose_h: Floats | None = None
    gap_share: Floats | None = None
    gap_lag_h: Floats | None = None
    open_: Rows | None = None
    settle_s: Floats | None = None
    ice_kpa: Floats | None = None
    refilled: Rows | None = None


@dataclass(slots=True)
class Followed:
    """What became of the tubes.

    Args:
        vacuum_kpa: at the transducers.
        dead: whether there was no water between cup and transducer any more.
        broken: row and moment of each cup that let air in.
    """

    vacuum_kpa: Floats
    dead: Rows
    broken: list[tuple[int, int]] = field(default_factory=list)


@dataclass(slots=True)
class _Now:
    """The state of the tubes."""

    vacuum: Floats
    felt: Floats
    gap: Rows
    base: Floats
    strained_h: Floats
    fade_h: Floats


def follow(tubes: Tubes) -> Followed:
    """Follow the tubes through the season."""
    size, rows = tubes.soil_kpa.shape
    out = Followed(np.empty((size, rows)), np.zeros((size, rows), dtype=np.bool_))
    now = _Now(
        tubes.soil_kpa[0] + tubes.head_kpa, tubes.soil_kpa[0].copy(), np.zeros(rows, dtype=np.bool_), np.zeros(rows),
        np.zeros(rows), np.full(rows, np.nan),
    )  # fmt: skip
    near_break = bool((tubes.soil_kpa.max(axis=0) > 0.9 * tubes.break_kpa).any())
    for moment in range(size):
        _contact(tubes, moment, now)
        _flow(tubes, moment, now)
        if near_break:
            _strain(tubes, moment, now, out)
        _spoil(tubes, moment, now, out)
        out.vacuum_kpa[moment] = now.vacuum
    return out


def _contact(tubes: Tubes, moment: int, now: _Now) -> None:
    """Let cups without contact feel less than the soil has."""
    soil = tubes.soil_kpa[moment]
    now.felt = soil
    if tubes.gap_share is None or tubes.gap_lag_h is None:
        return
    share = tubes.gap_share[moment]
    loose = ~np.isnan(share)
    opens = loose & ~now.gap & (soil > 10.0)
    now.base = np.where(opens, soil, now.base)
    before = np.where(opens, soil, now.vacuum - tubes.head_kpa)
    now.gap = (now.gap | opens) & loose & (soil > 0.8 * now.base)
    target = now.base + np.where(loose, share, 0.0) * (soil - now.base)
    lag = -np.expm1(-tubes.grid.step_s / 3600.0 / tubes.gap_lag_h)
    now.felt = np.where(now.gap, before + (target - before) * lag, soil)


def _flow(tubes: Tubes, moment: int, now: _Now) -> None:
    """Let water flow through the cups, and air through leaks."""
    step_s = tubes.grid.step_s
    target = now.felt + tubes.head_kpa
    dryness = np.maximum(tubes.soil_kpa[moment], 0.0) / DRY_KPA
    dryness = dryness * np.sqrt(dryness)
    tau = tubes.tau_s * (1.0 + dryness)
    if tubes.slow_s is not None:
        tau = tau + tubes.slow_s[moment]
    if tubes.settle_s is not None:
        tau = tau + tubes.settle_s[moment]
    if tubes.leak_per_h is None or tubes.choked_h is None:
        now.vacuum = target + (now.vacuum - target) * np.exp(-step_s / tau)
        return
    leak = tubes.leak_per_h[moment] / 3600.0
    choked = dryness * (DRY_KPA / CHOKED_KPA) ** 1.5 * 3600.0 * tubes.choked_h
    tau = np.where(leak > 0.0, tau + choked, tau)
    rate = 1.0 / tau + leak
    rest = target / (tau * rate)
    now.vacuum = rest + (now.vacuum - rest) * np.exp(-step_s * rate)


def _strain(tubes: Tubes, moment: int, now: _Now, out: Followed) -> None:
    """Hold the vacuum back at the cups' limit, and let cups break that were held too long."""
    limit = tubes.break_kpa + tubes.head_kpa
    over = now.vacuum > limit
    if not over.any() and not (now.strained_h > 0.0).any():
        return
    now.vacuum = np.where(over, limit + 0.15 * (now.vacuum - limit), now.vacuum)
    relaxed = tubes.soil_kpa[moment] < tubes.break_kpa - 5.0
    now.strained_h = np.where(relaxed, 0.0, now.strained_h + over * (tubes.grid.step_s / 3600.0))
    breaks = (now.strained_h > tubes.hold_h) & np.isnan(now.fade_h)
    for row in np.flatnonzero(breaks):
        out.broken.append((int(row), moment))
    now.fade_h = np.where(breaks, tubes.fade_h, now.fade_h)
    now.vacuum = np.where(breaks, now.vacuum * tubes.drop_share, now.vacuum)
    now.strained_h = np.where(breaks, 0.0, now.strained_h)


def _spoil(tubes: Tubes, moment: int, now: _Now, out: Followed) -> None:
    """Let all else act: lost columns, cracks, ice, and hands that open tubes."""
    before = out.vacuum_kpa[moment - 1] if moment else now.vacuum
    hours = tubes.grid.step_s / 3600.0
    if tubes.refilled is not None:
        now.fade_h = np.where(tubes.refilled[moment], np.nan, now.fade_h)
    fade = now.fade_h
    if tubes.lose_h is not None:
        fade = np.where(np.isnan(fade), tubes.lose_h[moment], fade)
    lost = ~np.isnan(fade)
    if lost.any():
        start = np.where(_just_broken(out, moment, len(fade)), now.vacuum, before)
        now.vacuum = np.where(lost, start * np.exp(-hours / np.where(lost, fade, 1.0)), now.vacuum)
        out.dead[moment] = lost
    if tubes.crack_kpa is not None:
        most = np.nan_to_num(tubes.crack_kpa[moment], nan=SOUND_KPA) + tubes.head_kpa
        over = now.vacuum > most
        kept = most + (np.maximum(before, most) - most) * np.exp(-hours / 1.0)
        now.vacuum = np.where(over, np.minimum(kept, now.vacuum), now.vacuum)
    if tubes.ice_kpa is not None:
        _freeze(tubes.ice_kpa[moment], tubes.head_kpa, before, now)
    if tubes.open_ is not None and tubes.open_[moment].any():
        now.vacuum = np.where(tubes.open_[moment], 0.06 * before, now.vacuum)


def _just_broken(out: Followed, moment: int, rows: int) -> Rows:
    """Tell which cups let air in at this moment: they begin with what that left."""
    return np.isin(np.arange(rows), [row for row, at in out.broken if at == moment])


def _freeze(ice: Floats, head: Floats, before: Floats, now: _Now) -> None:
    target = np.where(np.isinf(ice), before, ice + head)
    now.vacuum = np.where(np.isnan(ice), now.vacuum, before + (target - before) * 0.5)
