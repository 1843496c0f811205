"""``parchd budget``"""

import textwrap
from argparse import Namespace
from collections.abc import Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from parchd.app.setup import names
from parchd.cli.budget_words import ADVICE, notes, where
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import parse_time
from parchd.cli.terminal import print_safely
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.config.judging import decides_at_kpa
from parchd.contract import ParchdError
from parchd.physics.uncertainty import Budget, Contribution
from parchd.pipeline.budgets import TensionBudget, budget_at
from parchd.pipeline.setup import TensiometerSetup

WIDTH = 80
BAR = 20


@dataclass(frozen=True, slots=True)
class Asked:
    """Whose budget is asked for, at which tension and which time."""

    loaded: Loaded
    setup: TensiometerSetup
    at_kpa: float
    time_us: int

    @property
    def name(self) -> str:
        return self.setup.place.tensiometer


def command(arguments: Namespace) -> Exit:
    """Print what makes a tension uncertain, contribution by contribution."""
    loaded = load_config(arguments.config)
    setup = _setup(loaded, arguments.tensiometer)
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    time_us = now_us if arguments.date is None else parse_time(arguments.date, zone, now_us)
    at_kpa = decides_at_kpa(loaded, setup.place) if arguments.at is None else arguments.at
    print_safely("\n".join(budget_lines(Asked(loaded, setup, at_kpa, time_us))) + "\n")
    return Exit.OK


def budget_lines(asked: Asked) -> Iterator[str]:
    """Write the budget for a terminal, 80 columns wide."""
    made = budget_at(asked.setup, asked.at_kpa, asked.time_us)
    yield from _heading(asked, made.in_force.label)
    yield from ("", f"  {'contribution':<26}u, kPa  type  share")
    for one in sorted(made.budget.contributions, key=lambda one: one.expanded_kpa, reverse=True):
        yield from _contribution(one, made.budget.share(one), where(one.name, asked.loaded, asked.name))
    yield from ("", *_sum(made.budget, asked.at_kpa))
    yield from _rest(asked, made)


def _setup(loaded: Loaded, name: str) -> TensiometerSetup:
    found = next((t for t in loaded.pipeline.tensiometers if t.place.tensiometer == name), None)
    if found is None:
        raise ParchdError(f"no tensiometer is called {name}; parchd check lists them all")
    return found


def _heading(asked: Asked, label: str) -> Iterator[str]:
    called, place = names(asked.loaded), asked.setup.place
    calibrated = f"calibrated {label}" if label else "not calibrated"
    spot = f"{called.zone_title(place.zone)}, {place.station}, {place.depth_m * 100:g} cm deep"
    yield from _wrapped(f"{asked.name}: {spot}; {calibrated}")
    yield f"How uncertain is a tension of {asked.at_kpa:g} kPa on {called.local(asked.time_us)}?"


def _contribution(one: Contribution, share: float, assumed: str) -> Iterator[str]:
    filled = round(share * BAR)
    bar = "#" * filled + "." * (BAR - filled)
    yield f"  {one.name:<26}{one.u_kpa:6.3f}  {one.evaluation:^4}  {share * 100:3.0f} %  {bar}"
    yield from _wrapped("; ".join(part for part in (one.detail, assumed) if part), "      ")


def _sum(made: Budget, at_kpa: float) -> Iterator[str]:
    low, high = at_kpa - made.expanded_kpa, at_kpa + made.expanded_kpa
    yield f"  {'combined':<26}{made.combined_kpa:6.3f}"
    yield f"  {f'expanded, k = {made.k:.2f}':<26}{made.expanded_kpa:6.3f}  U"
    yield ""
    yield f"{at_kpa:g} kPa stands for {low:.1f} to {high:.1f} kPa, in 95 of 100 cases."


def _rest(asked: Asked, made: TensionBudget) -> Iterator[str]:
    if (largest := made.budget.largest) is not None:
        share = made.budget.share(largest) * 100
        yield from _wrapped(f"Largest: {largest.name}, {share:.0f} %. {ADVICE[largest.name]}")
    for note in notes(
        made.in_force.sources, made.in_force.label, beyond_span=made.beyond_span, at_kpa=asked.at_kpa,
        usable_kpa=asked.setup.usable_limit_kpa,
    ):  # fmt: skip
        yield from _wrapped(note)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)
