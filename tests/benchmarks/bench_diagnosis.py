"""What the diagnosis costs: a reading with and without it, the memory of a sensor, and a season."""

import gc
import tempfile
import time
import tracemalloc
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median

from farm import SENSORS, configuration, volts
from measuring import middle, options, table

from parchd.app.setup import EngineSetup, engine_setup
from parchd.clock import US_PER_S
from parchd.config import load
from parchd.contract import Reading, Sample, SampleBatch, Unit
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.setup import DiagnosisSetup
from parchd.diagnosis.standing import DiagnosisState
from parchd.evaluation.run import diagnose
from parchd.evaluation.trial import simulated
from parchd.pipeline.stage import PipelineState, process
from parchd.quality.stage import check
from parchd.quality.track import Track
from parchd.testing.full_memory import full_standing

BEGIN_US = 1_780_000_000 * US_PER_S // HOUR_US * HOUR_US
LIVED_H = 30 * 24
"""All that the diagnosis remembers is there before anything is measured."""
SPANS = ((60, 12), (900, 96), (3600, 192))
"""Seconds between samples, and hours that are measured."""
SEASON_SEED, SEASON_DAYS = 1, 90
AIM_US, AIM_KB = 15.0, 64.0


def setup_of(folder: Path) -> EngineSetup:
    return engine_setup(load(configuration(folder, port=1883), {}, None), {"people": ("irrigation@quillmere.example",)})


def readings(setup: EngineSetup, state: PipelineState, interval_s: int, begin_us: int, hours: int) -> list[Reading]:
    """What the pipeline makes of the farm's samples, in the order of time."""
    made: list[Reading] = []
    for time_us in range(begin_us, begin_us + hours * HOUR_US, interval_s * US_PER_S):
        step = (time_us - BEGIN_US) // (60 * US_PER_S)
        taken = tuple(
            Sample(f"n{number:02d}", time_us + number * 100_000, volts(number, step), Unit.V)
            for number in range(SENSORS)
        )
        _, found = process(
            setup.pipeline, state, SampleBatch("field", taken), time_us + 20 * US_PER_S, clock_trusted=True
        )
        made += found
    return made


def slower(setup: DiagnosisSetup, interval_s: float) -> DiagnosisSetup:
    """The same sensors, read at another interval."""
    return replace(setup, instruments=tuple(replace(one, interval_s=interval_s) for one in setup.instruments))


def take_us(diagnosis: Diagnosis, state: DiagnosisState, taken: Sequence[Reading]) -> float:
    """Time of the diagnosis per reading; what is to be saved is forgotten every hundred readings."""
    gc.collect()
    begin_s = time.perf_counter()
    for first in range(0, len(taken), SENSORS):
        diagnosis.take(state, taken[first : first + SENSORS])
        state.unsaved_hours.clear()
        state.changed.clear()
    return (time.perf_counter() - begin_s) / len(taken) * 1e6


def check_us(setup: EngineSetup, taken: Sequence[Reading]) -> float:
    """Time of the quality tests per reading."""
    tracks: dict[str, Track] = {}
    gc.collect()
    begin_s = time.perf_counter()
    for first in range(0, len(taken), SENSORS):
        check(setup.pipeline.limits, tracks, taken[first : first + SENSORS])
    return (time.perf_counter() - begin_s) / len(taken) * 1e6


def costs(setup: EngineSetup, rounds: int) -> None:
    """Print what a reading costs, quality tests and diagnosis taking turns."""
    lived = readings(setup, PipelineState(), 3600, BEGIN_US - LIVED_H * HOUR_US, LIVED_H)
    rows = []
    for interval_s, hours in SPANS:
        taken = readings(setup, PipelineState(), interval_s, BEGIN_US, hours)
        tests, found = [], []
        for _ in range(rounds):
            diagnosis = Diagnosis(slower(setup.diagnosis.setup, interval_s))
            state = diagnosis.begin(DiagnosisState())
            take_us(diagnosis, state, lived)
            tests.append(check_us(setup, taken))
            found.append(take_us(diagnosis, state, taken))
        both = [one + other for one, other in zip(tests, found, strict=True)]
        per_hour = [one * 3600 / interval_s for one in found]
        ratio, share = median(both) / median(tests), median(both) / AIM_US
        numbers = (f"{ratio:.1f}", f"{share:.2f}", middle(both, 1), middle(tests, 1), middle(per_hour, 1))
        rows.append([f"every {interval_s // 60} min", *numbers])
    print(f"{SENSORS} sensors that have been read for {LIVED_H // 24} days; us a reading")
    table(["", "with/without", f"of {AIM_US:.0f} us", "with", "quality tests", "us a sensor and hour"], rows)


def memory() -> None:
    """Print what a sensor takes whose memory is full."""
    tracemalloc.start()
    try:
        full_standing(-1)
        before, _ = tracemalloc.get_traced_memory()
        kept = [full_standing(number) for number in range(SENSORS)]
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    taken_kb = (after - before) / len(kept) / 1000.0
    table(["memory", f"of {AIM_KB:.0f} kB", "kB"], [["a sensor", f"{taken_kb / AIM_KB:.2f}", f"{taken_kb:.1f}"]])


def season(rounds: int) -> None:
    """Print how long a simulated season takes."""
    trial = simulated(SEASON_SEED, faults=True, days=SEASON_DAYS)
    took_s = []
    for _ in range(rounds):
        gc.collect()
        begin_s = time.perf_counter()
        diagnose(trial.season, trial.columns, trial.units)
        took_s.append(time.perf_counter() - begin_s)
    count = sum(len(one.time_us) for one in trial.columns.values())
    sensors = len(trial.season.setup.tensiometers)
    per_hour = [took / (sensors * SEASON_DAYS * 24) * 1e6 for took in took_s]
    row = [f"{sensors} sensors, {SEASON_DAYS} days, {count} readings", middle(took_s), middle(per_hour, 1)]
    table(["a season", "s", "us a sensor and hour"], [row])


def main() -> None:
    arguments = options(__doc__, rounds=3)
    with tempfile.TemporaryDirectory(prefix="parchd-bench-") as name:
        costs(setup_of(Path(name)), arguments.rounds)
    memory()
    season(arguments.rounds)


if __name__ == "__main__":
    main()
