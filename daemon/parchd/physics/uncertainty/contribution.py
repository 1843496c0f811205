"""Contributions to the uncertainty of a tension, and their sum."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from parchd.physics.student import t_factor

COVERAGE = 2.0
"""Factor k of expanded uncertainties: about 95 % (95.45 % of a normal distribution)."""

Evaluation = Literal["A", "B"]
"""From a statistical series (A), or from anything else that is known (B). GUM 2.3.2 and 2.3.3."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """One source of uncertainty, as it arrives in the tension.

    Args:
        name: what it is.
        u_kpa: standard uncertainty times its sensitivity coefficient, 0 or more.
        evaluation: "A" or "B".
        detail: where the number comes from, for people.
        dof: degrees of freedom behind it; infinity: it is known well.

    Raises:
        ValueError: the uncertainty is negative or no number.
    """

    name: str
    u_kpa: float
    evaluation: Evaluation
    detail: str
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not 0.0 <= self.u_kpa < math.inf:
            raise ValueError(f"an uncertainty is 0 or more, not {self.u_kpa:g} kPa ({self.name})")

    @property
    def expanded_kpa(self) -> float:
        """What this contribution alone would make of the expanded uncertainty."""
        return COVERAGE * inflation(self.dof) * self.u_kpa


@dataclass(frozen=True, slots=True)
class Budget:
    """All contributions to the uncertainty of one tension.

    They are independent, so that their squares add up (GUM 5.1.2, eq. 10). A contribution that few points stand
    behind is widened by Student's factor first: U = sqrt(sum (t u)^2), t the factor of 95.45 % for the degrees of
    freedom of each, 2 for what is known well. So an interval of k = 2 holds the truth as often as it says: in 95 to
    97 of 100 cases for a line through six points or more, in up to 99 for one through three.

    GUM G.4 (Welch and Satterthwaite) gives the sum one factor for its effective degrees of freedom instead. Simulated,
    that holds the truth in 88 of 100 cases only where a line through three points meets a quarter as much from
    elsewhere, and another source of error can make U smaller (Ballico 2000, Metrologia 37:61); this sum never does.
    """

    contributions: tuple[Contribution, ...]

    @property
    def combined_kpa(self) -> float:
        """Combined standard uncertainty."""
        return _root_of_squares(one.u_kpa for one in self.contributions)

    @property
    def expanded_kpa(self) -> float:
        """Expanded uncertainty U: the truth lies within U of the tension in 95 of 100 cases."""
        return _root_of_squares(one.expanded_kpa for one in self.contributions)

    @property
    def k(self) -> float:
        """Expanded over combined uncertainty: 2 unless few points stand behind a contribution."""
        return self.expanded_kpa / self.combined_kpa if self.combined_kpa > 0.0 else COVERAGE

    @property
    def largest(self) -> Contribution | None:
        """What to improve first; ``None`` of an empty budget."""
        return max(self.contributions, key=lambda one: one.expanded_kpa, default=None)

    def share(self, contribution: Contribution) -> float:
        """Give what part of the expanded uncertainty's square a contribution makes, 0 to 1."""
        return (contribution.expanded_kpa / self.expanded_kpa) ** 2 if self.expanded_kpa > 0.0 else 0.0


def rectangular(half_width: float) -> float:
    """Give the standard uncertainty of a quantity that lies anywhere between two limits (GUM 4.3.7).

    >>> round(rectangular(0.5), 4)
    0.2887
    """
    return abs(half_width) / math.sqrt(3.0)


def inflation(dof: float) -> float:
    """Give how much wider a standard uncertainty counts because few points stand behind it.

    Source: Student's t for 95.45 % over 2 (GUM G.3.2, table G.2).

    >>> round(inflation(7.0), 3), inflation(math.inf)
    (1.214, 1.0)
    """
    return 1.0 if dof == math.inf else t_factor(dof) / COVERAGE


def _root_of_squares(values: Iterable[float]) -> float:
    return math.hypot(*values)
