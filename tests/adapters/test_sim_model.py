import subprocess
import sys
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from parchd_adapters.sim.model import Model, State
from parchd_adapters.sim.options import SimOptions

MIDNIGHT_US = 1_780_012_800_000_000  # 2026-05-29T00:00:00Z
HOUR_S = 3600
DAY_S = 24 * HOUR_S
CLEAN = {"noise_kpa": 0, "ripple_kpa": 0, "lag_s": 0}


def options(one: dict[str, Any] | None = None, **given: Any) -> SimOptions:
    return SimOptions.model_validate({"tensiometers": {"t": {**CLEAN, **(one or {})}}, **given})


def shown(model: Model, state: State) -> float:
    (found,) = [signal.value for signal in model.read(state) if signal.channel == "t"]
    return found


def vacuum_kpa(model: Model, state: State) -> float:
    """Undo the default transducer: 10 to 90 % of 5 V over 100 kPa."""
    return (shown(model, state) / 5 - 0.1) / 0.8 * 100


def test_the_transducer_shows_the_tension_and_the_column_of_water() -> None:
    model = Model(options({"height_m": 0.6, "start_kpa": 24.13, "drying_kpa_per_day": 0}, transducer={"bits": 24}))
    # A cup at 24.13 kPa under 0.60 m of water at 20 C reads 30.0 at the top: rho g h = 5.8734 kPa (Tanaka 2001)
    assert vacuum_kpa(model, model.start(MIDNIGHT_US)) == pytest.approx(30.0, abs=0.01)


def test_soil_at_thirty_kpa_dries_as_much_in_a_day_as_the_options_say() -> None:
    model = Model(options({"start_kpa": 30, "drying_kpa_per_day": 0.5}))
    dried = model.soil_kpa(model.step(model.start(MIDNIGHT_US), DAY_S))["t"] - 30
    assert dried == pytest.approx(0.5, rel=0.05)


def test_soil_dries_by_day_and_rests_by_night() -> None:
    model = Model(options({"start_kpa": 30, "drying_kpa_per_day": 4}))
    states = [model.start(MIDNIGHT_US)]
    for _ in range(24):
        states.append(model.step(states[-1], HOUR_S))
    gains = [b - a for a, b in pairwise(model.soil_kpa(state)["t"] for state in states)]
    assert [gain > 1e-6 for gain in gains] == [False] * 7 + [True] * 12 + [False] * 5
    assert gains.index(max(gains)) in (12, 13)


def test_the_farms_clock_says_when_it_is_noon() -> None:
    east = Model(options({"start_kpa": 30}, utc_offset_h=12))
    state = east.start(MIDNIGHT_US)
    assert east.soil_kpa(east.step(state, 3 * HOUR_S))["t"] > 30.1


def test_wet_soil_drains_to_field_capacity_and_no_further() -> None:
    model = Model(options({"start_kpa": 1, "drying_kpa_per_day": 0}))
    state = model.start(MIDNIGHT_US)
    kpas = [model.soil_kpa(state := model.step(state, DAY_S))["t"] for _ in range(10)]
    assert kpas == sorted(kpas)
    assert kpas[-1] == pytest.approx(8.0, abs=0.01)


def test_irrigation_comes_when_the_soil_is_dry_and_reaches_the_deep_cup_later() -> None:
    still = {"start_kpa": 20, "drying_kpa_per_day": 0}
    field = SimOptions.model_validate(
        {
            "tensiometers": {
                "shallow": {"start_kpa": 44, "irrigate_at_kpa": 45, "valve": "north"},
                "deep": {**still, "depth_m": 0.6, "valve": "north", "irrigation_share": 0.4},
                "other": {**still, "valve": "creek"},
            }
        }
    )
    model = Model(field)
    states = [model.start(MIDNIGHT_US)]
    for _ in range(24 * 6):
        states.append(model.step(states[-1], 600))
    shallow, deep, other = ([model.soil_kpa(state)[name] for state in states] for name in ("shallow", "deep", "other"))
    assert 45 <= max(shallow) < 46  # it goes on drying until the water comes
    assert min(shallow) < 3
    assert 4 < min(deep) < 12
    assert other == pytest.approx([20] * len(states))
    first_drop = [next(i for i, kpa in enumerate(kpas) if kpa < kpas[i - 1] - 0.01) for kpas in (shallow[1:], deep[1:])]
    assert first_drop[1] - first_drop[0] == pytest.approx(6, abs=1)  # 0.3 m deeper at 0.3 m/h: an hour, six steps


def test_irrigation_comes_at_set_times() -> None:
    at_two = [{"after_s": 2 * HOUR_S, "valve": "bench"}]
    model = Model(options({"start_kpa": 40, "valve": "bench"}, irrigations=at_two))
    start = model.start(MIDNIGHT_US)
    assert model.soil_kpa(model.step(start, 2.9 * HOUR_S))["t"] == pytest.approx(40, abs=0.01)
    assert model.soil_kpa(model.step(start, 6 * HOUR_S))["t"] < 5


def test_a_cup_follows_the_soil_late() -> None:
    at_once = [{"after_s": 0}]
    slow = Model(options({"start_kpa": 40, "lag_s": 1800, "depth_m": 0}, irrigations=at_once, irrigation_h=0.1))
    quick = Model(options({"start_kpa": 40, "depth_m": 0}, irrigations=at_once, irrigation_h=0.1))
    after = [vacuum_kpa(model, model.step(model.start(MIDNIGHT_US), 1800)) for model in (quick, slow)]
    assert after[1] > after[0] + 10


def test_the_transducer_swings_a_little_with_the_day() -> None:
    model = Model(options({"ripple_kpa": 1, "drying_kpa_per_day": 0}, transducer={"bits": 24}))
    start = model.start(MIDNIGHT_US)
    swing = [vacuum_kpa(model, model.step(start, hour * HOUR_S)) for hour in range(24)]
    assert (swing.index(min(swing)), swing.index(max(swing))) == (8, 20)
    assert max(swing) - min(swing) == pytest.approx(2.0, abs=0.001)


def test_too_much_vacuum_lets_air_in_and_then_it_reads_wet() -> None:
    model = Model(options({"start_kpa": 78, "drying_kpa_per_day": 20, "height_m": 0.6, "air_entry_kpa": 85}))
    state = model.start(MIDNIGHT_US)
    kpas = [vacuum_kpa(model, state := model.step(state, HOUR_S)) for _ in range(48)]
    assert 80 < max(kpas) <= 85.01
    assert kpas[-1] < 1
    assert model.soil_kpa(state)["t"] > 80


FIELD = {"tensiometers": {"t": {"noise_kpa": 0.1, "irrigate_at_kpa": 30}}, "supply_channel": "supply"}


@settings(deadline=None)  # a slow machine under coverage takes more than the 200 ms of one example
@given(cuts=st.lists(st.floats(0, 5000), max_size=8))
def test_how_the_time_is_cut_changes_nothing(cuts: list[float]) -> None:
    model = Model(SimOptions.model_validate(FIELD), grain_s=60)
    cut_at = sorted(round(cut, 3) for cut in cuts)
    state = whole = model.start(MIDNIGHT_US + 12 * HOUR_S * 1_000_000)
    for begin, end in zip([0.0, *cut_at], [*cut_at, 5000.0], strict=True):
        state = model.step(state, round(end - begin, 3))
    assert state == model.step(whole, 5000.0)
    assert model.read(state) == model.read(model.step(whole, 5000.0))


def test_the_same_seed_gives_the_same_noise_and_another_gives_another() -> None:
    one, same, other = (Model(SimOptions.model_validate({**FIELD, "seed": seed})) for seed in (1, 1, 2))
    states = [model.step(model.start(MIDNIGHT_US), 600) for model in (one, same, other)]
    assert one.read(states[0]) == same.read(states[1])
    assert shown(one, states[0]) != shown(other, states[2])


def test_noise_is_as_large_as_the_options_say() -> None:
    model = Model(options({"noise_kpa": 0.2, "drying_kpa_per_day": 0}, transducer={"bits": 24}))
    state = model.start(MIDNIGHT_US)
    true_kpa = 15 + 5.8735
    errors = [vacuum_kpa(model, state := model.step(state, 60)) - true_kpa for _ in range(2000)]
    assert sum(errors) / 2000 == pytest.approx(0, abs=0.02)
    assert (sum(error**2 for error in errors) / 2000) ** 0.5 == pytest.approx(0.2, rel=0.06)


def test_the_supply_swings_and_the_signal_with_it() -> None:
    swinging = {"supply_swing_v": 0.25, "bits": 24}
    model = Model(options({"drying_kpa_per_day": 0}, transducer=swinging, supply_channel="supply"))
    start = model.start(MIDNIGHT_US)
    pairs = [{s.channel: s.value for s in model.read(model.step(start, hour * HOUR_S))} for hour in (3, 15)]
    assert [pair["supply"] for pair in pairs] == pytest.approx([4.75, 5.25])
    assert pairs[0]["t"] / pairs[0]["supply"] == pytest.approx(pairs[1]["t"] / pairs[1]["supply"], abs=1e-6)


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"tensiometers": {}}, "at least 1"),
        ({"tensiometers": {"t/1": {}}}, "1 to 64 characters"),
        ({"tensiometers": {"t": {"irrigate_at_kpa": "sometimes"}}}, "never"),
        ({"supply_channel": "t"}, "another name than the tensiometer"),
        ({"faults": [{"channel": "x", "kind": "open", "after_s": 1}]}, "one of the tensiometers"),
        ({"faults": [{"channel": "t", "kind": "bent", "after_s": 1}]}, "'open', 'stuck', 'silent' or 'air-entry'"),
        ({"irrigations": [{"after_s": 1, "valve": "x"}]}, "the valve of a tensiometer"),
        ({"transducer": {"output": "mA"}}, "because shape is ratiometric"),
        ({"transducer": {"output": "kPa"}}, "output"),
    ],
)
def test_options_that_do_not_fit_are_refused(given: dict[str, Any], told: str) -> None:
    with pytest.raises(ValidationError) as caught:
        SimOptions.model_validate({"tensiometers": {"t": {}}, **given})
    assert told in str(caught.value)


def test_a_simulation_needs_no_options_at_all() -> None:
    model = Model(SimOptions.model_validate({}))
    assert [signal.channel for signal in model.read(model.start(MIDNIGHT_US))] == ["shallow", "deep"]


def test_a_simulation_runs_without_numpy() -> None:
    code = (
        "import sys; from parchd_adapters.sim import KIND; from parchd_adapters.sim.model import Model;"
        "m = Model(KIND.options()); m.read(m.step(m.start(0), 3600)); sys.exit('numpy' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
