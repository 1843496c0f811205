"""Samples that show a fault: those that are not what its twin season without faults has."""

import numpy as np
from numpy.typing import NDArray

from parchd.clock import US_PER_S
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.counting import PLAIN_KPA
from parchd.simulator.convert import Columns
from parchd.simulator.season import Fault

LEAST_LAG_US = 60 * US_PER_S
CHANGE_THE_SOIL = frozenset((K.AIR_ENTRY,))
"""Kinds that come with a drought in the whole zone: the twin has them too, or its soil would be another one."""


def samples_that_show(
    fault: Fault, here: Columns, twin: Columns, until_us: int, least_kpa: float
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Times of all samples that show a fault, in order, and whether by `PLAIN_KPA` at least."""
    if fault.kind in CHANGE_THE_SOIL:
        times = np.sort(here.time_us[(here.time_us >= fault.start_us) & (here.time_us <= until_us)])
        return times, np.ones(len(times), dtype=np.bool_)
    times, plain = _different(here, twin, fault.start_us, until_us, least_kpa)
    absent = _missing(here, twin, fault.start_us, until_us)
    every = np.concatenate([times, absent])
    order = np.argsort(every, kind="stable")
    return every[order], np.concatenate([plain, np.ones(len(absent), dtype=np.bool_)])[order]


def _different(
    here: Columns, twin: Columns, begin_us: int, until_us: int, least_kpa: float
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Times of samples that are not the twin's, and whether by `PLAIN_KPA` at least."""
    within = np.flatnonzero((here.time_us >= begin_us) & (here.time_us <= until_us))
    if not len(within) or not len(twin.time_us):
        return here.time_us[within][:0], np.empty(0, dtype=np.bool_)
    match = _position(twin.time_us, here.time_us[within])
    mine, other = here.tension_kpa[within], np.where(match >= 0, twin.tension_kpa[match], np.nan)
    lag = (here.received_us - here.time_us)[within] - (twin.received_us - twin.time_us)[match]
    apart = (np.isnan(mine) != np.isnan(other)) | (match < 0) | (np.abs(lag) > LEAST_LAG_US)
    with np.errstate(invalid="ignore"):
        error = np.abs(mine - other)
        shows, plain = apart | (error > least_kpa), apart | (error >= PLAIN_KPA)
    return here.time_us[within][shows], plain[shows]


def _missing(here: Columns, twin: Columns, begin_us: int, until_us: int) -> NDArray[np.int64]:
    """Times of the twin's samples that never came."""
    within = twin.time_us[(twin.time_us >= begin_us) & (twin.time_us <= until_us)]
    return within[_position(here.time_us, within) < 0] if len(here.time_us) else within


def _position(times: NDArray[np.int64], wanted: NDArray[np.int64]) -> NDArray[np.intp]:
    """Where each wanted time stands in a column in any order; -1: nowhere."""
    order = np.argsort(times, kind="stable")
    place = np.minimum(np.searchsorted(times[order], wanted), len(times) - 1)
    found: NDArray[np.intp] = np.where(times[order][place] == wanted, order[place], -1)
    return found
