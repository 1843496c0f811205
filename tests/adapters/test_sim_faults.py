from typing import Any

import pytest

from parchd_adapters.sim.model import Model
from parchd_adapters.sim.options import SimOptions

MIDNIGHT_US = 1_780_012_800_000_000  # 2026-05-29T00:00:00Z
HOUR_S = 3600


def faulty(kind: str, **given: Any) -> Model:
    fault = {"channel": "t", "kind": kind, "after_s": 3600, **given}
    tensiometer = {"noise_kpa": 0.1, "start_kpa": 40, "lag_s": 0}
    return Model(SimOptions.model_validate({"tensiometers": {"t": tensiometer}, "faults": [fault]}))


def values(model: Model, hours: int) -> list[float | None]:
    state, found = model.start(MIDNIGHT_US), []
    for _ in range(hours * 6):
        state = model.step(state, 600)
        found.append(next((signal.value for signal in model.read(state)), None))
    return found


def test_a_broken_wire_shows_nothing_at_all() -> None:
    found = values(faulty("open", for_s=3600), 3)
    assert found[5:11] == [0.0] * 6
    assert min(value or 0.0 for value in found[:5] + found[11:]) > 2


def test_a_silent_channel_sends_nothing() -> None:
    found = values(faulty("silent"), 2)
    assert None not in found[:5]
    assert found[5:] == [None] * 7


def test_a_stuck_channel_shows_one_value_for_ever() -> None:
    found = values(faulty("stuck", for_s=7200), 5)
    assert len(set(found[6:17])) == 1
    assert len(set(found[:5])) == 5
    assert len(set(found[18:])) > 5


def test_air_in_the_tube_reads_wet_until_it_is_refilled() -> None:
    found = values(faulty("air-entry", for_s=24 * HOUR_S), 30)
    assert min(value or 0.0 for value in found[:5]) > 2
    assert found[24 * 6] == pytest.approx(0.5, abs=0.05)  # 10 % of 5 V: no vacuum
    assert min(value or 0.0 for value in found[25 * 6 + 1 :]) > 2
