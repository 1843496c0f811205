"""Silences that the records bear out."""

import numpy as np
import pytest

from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.outages import borne_out
from parchd.simulator.convert import Columns

CHANNELS = {"a": "bus/ch01", "b": "bus/ch02"}
OTHER_SOURCE = {"air/ch01": 100}


def record(**last_hours: int) -> dict[str, Columns]:
    """Channels of the bus that are heard every hour up to some hour."""
    return {f"{'bus' if name != 'air' else 'air'}/{name}": heard(hours) for name, hours in last_hours.items()}


def heard(hours: int) -> Columns:
    time_us = np.arange(hours + 1, dtype=np.int64) * HOUR_US
    none = np.full(len(time_us), np.nan)
    return Columns(time_us, time_us, none, none, none, np.zeros(len(time_us), dtype=np.uint8))


def silent(kind: K, subject: str) -> Finding:
    return Finding(FindingKey(kind, subject), 10 * HOUR_US, 15 * HOUR_US, 0.9)


def test_a_source_of_which_nothing_came_is_silent() -> None:
    finding = silent(K.SILENT_SOURCE, "source/bus")
    assert borne_out(finding, record(ch01=10, ch02=10, air=100), CHANNELS)
    assert not borne_out(finding, record(ch01=10, ch02=15, air=100), CHANNELS)


@pytest.mark.parametrize(("own", "other", "true"), [(10, 100, True), (12, 100, False), (10, 10, False)])
def test_a_channel_is_silent_if_others_of_its_source_are_not(own: int, other: int, true: bool) -> None:
    finding = silent(K.SILENT_CHANNEL, "tensiometer/a")
    assert borne_out(finding, record(ch01=own, ch02=other, air=100), CHANNELS) is true


def test_other_kinds_are_no_outages() -> None:
    assert not borne_out(silent(K.LOST_WATER, "tensiometer/a"), record(ch01=10, ch02=100), CHANNELS)
