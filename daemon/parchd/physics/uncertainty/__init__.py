"""Uncertainty of a tension after GUM (JCGM 100:2008)."""

from parchd.physics.uncertainty.budget import Expanded, budget, compile_expanded
from parchd.physics.uncertainty.contribution import COVERAGE, Budget, Contribution, inflation, rectangular
from parchd.physics.uncertainty.resolution import step_kpa
from parchd.physics.uncertainty.sources import ASSUMED_ACCURACY_KPA, US_PER_YEAR, Sources, age_years, air_u_kpa

__all__ = [
    "Sources", "budget", "Budget", "Contribution", "COVERAGE", "ASSUMED_ACCURACY_KPA",
    "Expanded", "compile_expanded", "rectangular", "inflation", "step_kpa", "air_u_kpa", "age_years", "US_PER_YEAR",
]  # fmt: skip
