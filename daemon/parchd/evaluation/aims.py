"""What the diagnosis is to reach."""

from collections.abc import Iterator
from dataclasses import dataclass

from parchd.evaluation.tally import Row, Tally, quantile

_COLLAPSES = ("lost-water (collapse)", "air-entry")
_SLOW = "lost-water (slow)"


@dataclass(frozen=True, slots=True)
class Aim:
    """One aim beside its result.

    Args:
        result: NaN: nothing to judge by.
        at_least: whether more is better.
    """

    what: str
    aim: float
    result: float
    at_least: bool
    unit: str = ""

    @property
    def verdict(self) -> str:
        """``reached``, ``missed`` or ``not judged``."""
        if self.result != self.result:
            return "not judged"
        good = self.result >= self.aim if self.at_least else self.result <= self.aim
        return "reached" if good else "missed"


def aims(tally: Tally) -> list[Aim]:
    """All aims beside what was reached."""
    return [
        Aim("recall over all kinds", 0.95, tally.all.recall, True),
        Aim("precision over all kinds", 0.97, tally.all.precision, True),
        *_recalls(tally),
        *_delays(tally),
        Aim("false findings per sensor-year, seasons without faults", 0.1, tally.healthy_rate, False),
    ]


def _recalls(tally: Tally) -> Iterator[Aim]:
    for name in ("lost-water", "air-entry"):
        row = tally.row(name)
        yield Aim(f"recall of {name}", 0.99, row.recall if row else float("nan"), True)


def _delays(tally: Tally) -> Iterator[Aim]:
    collapses = [row for name in _COLLAPSES if (row := tally.row(name)) is not None]
    yield Aim("median delay of a collapse (lost water, air entry)", 6.0, _median(collapses), False, "h")
    slow = tally.row(_SLOW)
    yield Aim("median delay of a slow loss of water", 36.0, _median([slow] if slow else []), False, "h")


def _median(rows: list[Row]) -> float:
    return quantile([hours for row in rows for hours in row.delay_h], 0.5)
