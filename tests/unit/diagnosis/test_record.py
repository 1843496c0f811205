"""Twelve weeks that a tensiometer remembers, and what of them means nothing."""

import math

import numpy as np

from parchd.diagnosis.hours import Hour
from parchd.diagnosis.record import BLOCK_H, KEPT_BLOCKS, record, remember
from parchd.diagnosis.setup import Instrument
from parchd.diagnosis.standing import DiagnosisState, Neighbours, Standing
from parchd.diagnosis.verdict import Look
from parchd.testing.diagnosing import instrument

FIRST_H = 480_000


def look(standing: Standing, hour: int) -> Look:
    return Look(DiagnosisState(), standing, hour, Neighbours(), standing.hours.newest())


def rising(made: Instrument, days: int) -> Standing:
    """Let it read a hundredth of a kilopascal more in every block, and remember every four days."""
    standing = Standing(made)
    for hour in range(24 * days):
        standing.hours.push(FIRST_H + hour, Hour(mean_kpa=(hour // BLOCK_H) / 100.0))
        if hour % 96 == 95:
            remember(look(standing, FIRST_H + hour))
    return standing


def test_what_the_hours_have_forgotten_is_still_remembered() -> None:
    standing = rising(instrument("north-30"), 100)

    kept = record(standing, (FIRST_H + 2400) // BLOCK_H)

    assert len(kept) == KEPT_BLOCKS
    assert np.allclose(kept, np.arange(400 - KEPT_BLOCKS, 400) / 100.0, atol=0.0051)


def test_days_after_the_last_look_come_from_the_hours() -> None:
    standing = rising(instrument("north-30"), 62)

    kept = record(standing, (FIRST_H + 62 * 24) // BLOCK_H)

    assert math.isclose(kept[-1], 2.47, abs_tol=0.006)
    assert np.isnan(kept[: KEPT_BLOCKS - 62 * 4]).all()
