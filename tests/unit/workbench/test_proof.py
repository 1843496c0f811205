"""The three tests of the bench proof, on curves of known instruments good and bad."""

import math
import random
from collections.abc import Callable
from datetime import UTC, datetime

import pytest

from parchd.testing.site import tensiometer
from parchd.workbench import proof_words as words
from parchd.workbench.proof import Moment, Outcome, Proof, Result, Subject, Terms, Trial
from parchd.workbench.proof_hold import HoldTrial
from parchd.workbench.proof_record import proof_comment, proof_picture, proof_record
from parchd.workbench.proof_return import ReturnTrial
from parchd.workbench.proof_towel import TowelTrial

HEAD_KPA = 5.87
SUBJECT = Subject("n1", HEAD_KPA, 79.1)
TERMS = Terms()


def run(
    trial: Trial,
    tension: Callable[[float], float],
    end_s: float = 4000.0,
    interval_s: float = 2.0,
    start_s: float = 0.0,
) -> Result:
    """Give a trial the samples of a curve until it is over."""
    rng, t_s = random.Random(1), start_s
    while not trial.over and t_s <= end_s:
        kpa = tension(t_s) + rng.gauss(0.0, 0.05)
        trial.take(Moment(t_s, kpa + HEAD_KPA, kpa))
        t_s += interval_s
    assert trial.status()
    assert trial.hint()
    return trial.result()


def fact(result: Result, key: str) -> float:
    (value,) = [one.value for one in result.facts if one.key == key]
    return value


def towel() -> TowelTrial:
    return TowelTrial(SUBJECT, TERMS)


def hold(terms: Terms = TERMS) -> HoldTrial:
    return HoldTrial(SUBJECT, terms)


def back() -> ReturnTrial:
    return ReturnTrial(SUBJECT, TERMS)


# --- towel


def test_the_towel_test_passes_at_the_target_and_ends_when_it_is_good() -> None:
    result = run(towel(), lambda t: 45.0 * (1.0 - math.exp(-t / 1500.0)))
    assert result.outcome is Outcome.PASSED
    assert fact(result, "target_after_s") == pytest.approx(-1500.0 * math.log(1.0 - 20.0 / 45.0), abs=10.0)
    assert fact(result, "good_after_s") == fact(result, "duration_s")
    assert fact(result, "good_after_s") == pytest.approx(-1500.0 * math.log(1.0 - 30.0 / 45.0), abs=10.0)
    assert words.TOWEL_SOUND in result.meaning
    assert result.advice == ()


def test_a_single_wild_value_does_not_pass_it() -> None:
    result = run(towel(), lambda t: 60.0 if t == 100.0 else 5.0 + t / 3600.0)
    assert result.outcome is Outcome.FAILED
    assert fact(result, "highest_kpa") < 7.0


def test_the_target_is_enough_where_time_runs_out_before_it_is_good() -> None:
    result = run(towel(), lambda t: 24.0 * (1.0 - math.exp(-t / 1000.0)))
    assert (result.outcome, words.TOWEL_ENOUGH in result.meaning) == (Outcome.PASSED, True)
    assert fact(result, "duration_s") == 3600.0


@pytest.mark.parametrize(
    ("curve", "meaning"),
    [
        (lambda t: 12.0 * (1.0 - math.exp(-t / 600.0)), words.TOWEL_LEVELS_OFF),
        (lambda t: 9.0 * t / 3600.0, words.TOWEL_SLOW),
        (lambda t: 1.0, words.TOWEL_FLAT),
        (lambda t: -HEAD_KPA, "feels the air"),
        (lambda t: -t / 100.0, words.FALLS),
        (lambda t: t / 60.0 if t < 900.0 else max(0.0, 15.0 - (t - 900.0) / 30.0), words.TOWEL_LOST),
    ],
)
def test_the_shape_of_a_failure_tells_what_it_means(curve: Callable[[float], float], meaning: str) -> None:
    result = run(towel(), curve)
    assert result.outcome is Outcome.FAILED
    assert any(meaning in sentence for sentence in result.meaning)
    assert result.advice


def test_a_signal_of_which_no_digit_moves_is_no_measurement() -> None:
    trial = towel()
    for second in range(0, 3700, 10):
        trial.take(Moment(float(second), 7.5, 1.63))
    assert trial.result().meaning == (words.STUCK,)


def test_air_that_gets_in_after_the_target_makes_it_doubtful() -> None:
    result = run(towel(), lambda t: t / 60.0 if t < 1500.0 else max(0.0, 25.0 - (t - 1500.0) / 30.0))
    assert (result.outcome, result.meaning) == (Outcome.DOUBTFUL, (words.TOWEL_LOST,))


def test_enter_ends_it_unfinished_or_passed() -> None:
    trial = towel()
    for second in range(0, 300, 5):
        trial.take(Moment(float(second), second / 20.0 + HEAD_KPA, second / 20.0))
    trial.enter()
    assert trial.over
    assert trial.result().outcome is Outcome.UNFINISHED
    for second in range(300, 600, 5):
        trial.take(Moment(float(second), second / 20.0 + HEAD_KPA, second / 20.0))
    assert trial.result().outcome is Outcome.PASSED


def test_it_tells_when_it_will_be_there_and_when_nothing_happens() -> None:
    rising, flat = towel(), towel()
    for second in range(0, 905, 5):
        rising.take(Moment(float(second), second / 60.0 + HEAD_KPA, second / 60.0))
        flat.take(Moment(float(second), HEAD_KPA, 0.1 * (second % 2)))
    assert "rises 1.0 kPa/min, 20 kPa in about 5.1 min" in rising.status()
    assert "hardly rises" in flat.hint()


@pytest.mark.parametrize("trial", [towel(), hold(), back()])
def test_without_a_single_value_the_trouble_is_the_verdict(trial: Trial) -> None:
    for second in range(5):
        trial.take(Moment(float(second), None, None, "open circuit (0.01 V)"))
    assert "open circuit" in trial.status()
    trial.stop()
    result = trial.result()
    assert (result.outcome, result.headline) == (Outcome.FAILED, "no value: open circuit (0.01 V)")
    assert result.advice == words.WIRING_ADVICE
    assert result.points == ()


# --- hold


def pumped(leak_kpa_per_min: float, top_kpa: float = 70.0) -> Callable[[float], float]:
    """The tension at the cup while the pump pulls for 35 s, and while it leaks afterwards."""
    return lambda t: min(top_kpa, 2.0 * t) - HEAD_KPA - max(0.0, t - 35.0) * leak_kpa_per_min / 60.0


@pytest.mark.parametrize(
    ("leak", "outcome", "meaning"),
    [
        (0.0, Outcome.PASSED, words.HOLD_TIGHT),
        (0.35, Outcome.PASSED, words.HOLD_TIGHT),
        (0.45, Outcome.DOUBTFUL, words.HOLD_DOUBTFUL),
        (0.95, Outcome.DOUBTFUL, words.HOLD_DOUBTFUL),
        (1.1, Outcome.FAILED, words.HOLD_LEAK),
        (40.0, Outcome.FAILED, words.HOLD_OPEN),
        (-0.6, Outcome.DOUBTFUL, words.HOLD_RISES),
    ],
)
def test_two_to_five_kilopascals_in_five_minutes_part_good_from_bad(
    leak: float, outcome: Outcome, meaning: str
) -> None:
    result = run(hold(), pumped(leak), interval_s=1.0)
    assert (result.outcome, result.meaning[0]) == (outcome, meaning)
    if abs(leak) < 2.0:
        assert fact(result, "leak_kpa_per_min") == pytest.approx(leak, abs=0.03)
        assert fact(result, "start_kpa") == pytest.approx(70.0, abs=0.3)
        assert fact(result, "duration_s") == 300.0


def test_the_test_begins_by_itself_when_the_pump_rests_high_enough() -> None:
    trial = hold()
    run(trial, pumped(0.0, top_kpa=55.0), end_s=200.0, interval_s=1.0)
    assert "Pull 60 to 80 kPa" in trial.hint()
    trial.stop()
    assert "not begun: the highest vacuum was 55" in trial.result().headline
    other = hold()
    run(other, pumped(0.0, top_kpa=62.0), end_s=60.0, interval_s=1.0)
    assert "Do not touch it" in other.hint()


def test_enter_begins_it_sooner_and_a_low_start_is_doubtful() -> None:
    trial = hold()
    run(trial, lambda _t: 30.0, end_s=20.0)
    trial.enter()
    result = run(trial, lambda _t: 30.0, start_s=22.0)
    assert (result.outcome, result.meaning) == (Outcome.DOUBTFUL, (words.HOLD_LOW,))


def test_spikes_do_not_make_a_leak() -> None:
    result = run(hold(), lambda t: pumped(0.1)(t) - (40.0 if t > 60.0 and t % 7.0 == 0.0 else 0.0), interval_s=1.0)
    assert result.outcome is Outcome.PASSED


def test_high_up_less_vacuum_is_asked_for() -> None:
    high = Subject("n1", HEAD_KPA, 48.0)  # 3000 m: facts 2.4
    assert words.hold_range_kpa(high) == (43.0, 53.0)
    steps = words.instructions(Proof.HOLD, high, TERMS)
    assert any("Pull 43 to 53 kPa* as the transducer shows it; this altitude allows no more" in step for step in steps)


# --- return


def dipped(tau_s: float, rest_kpa: float, start_kpa: float = 32.0) -> Callable[[float], float]:
    """The tension of a cup that comes into the water after 20 s."""
    return lambda t: start_kpa if t < 20.0 else rest_kpa + (start_kpa - rest_kpa) * math.exp(-(t - 20.0) / tau_s)


def test_a_quick_return_to_a_right_zero_passes() -> None:
    result = run(back(), dipped(15.0, 0.2), interval_s=1.0)
    assert result.outcome is Outcome.PASSED
    assert fact(result, "time_constant_s") == pytest.approx(15.0, rel=0.05)
    assert fact(result, "zero_off_kpa") == pytest.approx(0.2, abs=0.05)
    assert fact(result, "within_1_kpa_s") == pytest.approx(15.0 * math.log(31.8), abs=3.0)
    assert fact(result, "shown_at_rest_kpa") == pytest.approx(HEAD_KPA + 0.2, abs=0.05)
    assert words.ZERO_RIGHT in result.meaning


def test_a_zero_that_is_off_is_doubtful_and_says_how_to_set_it() -> None:
    result = run(back(), dipped(15.0, 1.8), interval_s=1.0)
    assert result.outcome is Outcome.DOUBTFUL
    assert "At rest the transducer shows 7.66 kPa; its column of water makes 5.87 kPa." in result.meaning
    assert "parchd calibrate n1 --zero" in result.advice[-1]


def test_a_slow_return_means_air_or_closed_pores() -> None:
    result = run(back(), dipped(150.0, 0.1), interval_s=2.0)
    assert (result.outcome, result.meaning[0]) == (Outcome.DOUBTFUL, words.RETURN_SLOW)
    assert fact(result, "time_constant_s") == pytest.approx(150.0, rel=0.05)


def test_no_return_at_all_fails_and_tells_no_zero() -> None:
    result = run(back(), lambda _t: 32.0)
    assert (result.outcome, result.meaning, result.facts) == (Outcome.FAILED, (words.RETURN_NEVER,), ())


def test_an_empty_tube_is_told_from_a_zero_that_is_off() -> None:
    result = run(back(), dipped(15.0, -HEAD_KPA), interval_s=1.0)
    assert any("there is air under it" in sentence for sentence in result.meaning)
    assert any("zeroed_in_water" in sentence for sentence in result.meaning)


def test_too_little_tension_tells_the_zero_only() -> None:
    result = run(back(), lambda _t: 0.3, interval_s=1.0)
    assert (result.outcome, result.meaning) == (Outcome.DOUBTFUL, (words.NOTHING_TO_FALL, words.ZERO_RIGHT))


def test_coarse_samples_bound_the_time_constant() -> None:
    result = run(back(), dipped(2.0, 0.0), interval_s=10.0)
    assert words.COARSE in result.meaning
    assert fact(result, "time_constant_s") >= 10.0
    assert any("at most" in one.text for one in result.facts)


def test_a_fitted_curve_is_drawn_beside_the_measured_one() -> None:
    result = run(back(), dipped(15.0, 0.2), interval_s=1.0)
    assert [series.label for series in result.chart.series] == ["measured", "fitted exponential"]


def test_ended_before_the_fall_it_is_unfinished() -> None:
    trial = back()
    run(trial, lambda _t: 32.0, end_s=30.0)
    trial.enter()
    assert trial.result().outcome is Outcome.UNFINISHED


# --- what is kept, and what is said before


def test_the_record_has_numbers_with_units_in_their_names_and_the_curve() -> None:
    result = run(hold(), pumped(0.1), interval_s=0.5)
    setup = tensiometer("north-30", "a0", height_m=0.6)
    began = datetime(2026, 5, 14, 15, 2, 7, 123456, tzinfo=UTC)
    record = proof_record(result, SUBJECT, setup, TERMS, began, "source board", "M. Quill")
    assert record["test"] == "hold"
    assert record["began"] == datetime(2026, 5, 14, 15, 2, 7, tzinfo=UTC)
    assert record["allowed_kpa_in_5_min"] == 2.0
    assert record["by"] == "M. Quill"
    curve = record["curve"]
    assert isinstance(curve, tuple)
    assert 100 < len(curve) <= words.RECORDED
    assert "by" not in proof_record(result, SUBJECT, setup, TERMS, began, "typed", "")
    picture = proof_picture(result, began, "M. Quill")
    assert picture.title == "Vacuum-hold test: n1, 2026-05-14 15:02 by M. Quill"
    assert picture.notes[0].startswith("PASSED: it loses 0.")
    assert picture.x_title == "minutes"
    assert "vacuum at the transducer" in proof_comment(Proof.HOLD)


@pytest.mark.parametrize("proof", Proof)
def test_what_rests_on_common_practice_carries_a_star(proof: Proof) -> None:
    assert any("*" in step for step in words.instructions(proof, SUBJECT, TERMS))
    assert words.STAR.startswith("*")


def test_before_a_vacuum_is_pulled_eyes_and_joints_are_thought_of() -> None:
    cautions = " ".join(words.cautions(Proof.HOLD))
    assert "Eye protection" in cautions
    assert "never put a tensiometer under pressure" in cautions
    assert "Hand-tighten only" in cautions
