"""What a reading costs inside the daemon, and what a day of readings writes to the disk."""

import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median

from farm import INTERVAL_MS, SENSORS, configuration, volts
from measuring import middle, options, table

from parchd.app.engine import Engine
from parchd.app.messages import Tick
from parchd.app.setup import EngineSetup, engine_setup
from parchd.clock import US_PER_S, SystemClock
from parchd.config import load
from parchd.contract import Sample, SampleBatch, Unit
from parchd.pipeline.convert import NOTHING_KNOWN
from parchd.pipeline.stage import PipelineState, process
from parchd.quality.stage import check
from parchd.quality.track import Track
from parchd.store.database import open_writer

SIZES = (1, 10, 100, 500)
INTERVAL_US = INTERVAL_MS * 1000
LIVED_STEPS = 360
LIVED_A_DAY = 4


def setup_of(folder: Path) -> EngineSetup:
    loaded = load(configuration(folder, port=1883), {}, None)
    return engine_setup(loaded, dict.fromkeys(loaded.notifiers, ("irrigation@quillmere.example",)))


def samples(count: int, begin_us: int) -> list[Sample]:
    """What the farm delivers in the order of time."""
    taken = []
    for index in range(count):
        step, number = divmod(index, SENSORS)
        time_us = begin_us + step * INTERVAL_US + number * INTERVAL_US // SENSORS
        taken.append(Sample(f"n{number:02d}", time_us, volts(number, step), Unit.V))
    return taken


def batches(taken: list[Sample], size: int) -> Iterator[SampleBatch]:
    for begin in range(0, len(taken), size):
        yield SampleBatch("field", tuple(taken[begin : begin + size]))


def turns_us(setup: EngineSetup, folder: Path, size: int, count: int) -> float:
    """Time of whole turns per reading: one batch, one transaction, one flush of the disk."""
    path = folder / f"turns-{size}-{time.monotonic_ns()}.db"
    begin_us = SystemClock().now_us() - count // SENSORS * INTERVAL_US
    ready = list(batches(samples(count, begin_us), size))
    connection = open_writer(path)
    try:
        engine = Engine(connection, setup, begin_us)
        begin_s = time.perf_counter()
        for batch in ready:
            engine.turn([batch], batch.samples[-1].time_us)
        return (time.perf_counter() - begin_s) / count * 1e6
    finally:
        connection.close()


def stage_us(setup: EngineSetup, size: int, count: int) -> float:
    """Time of the pure pipeline per reading: order, convert, check."""
    ready = list(batches(samples(count, 0), size))
    state = PipelineState()
    begin_s = time.perf_counter()
    for batch in ready:
        state, _ = process(setup.pipeline, state, batch, batch.samples[-1].time_us, clock_trusted=True)
    return (time.perf_counter() - begin_s) / count * 1e6


def tests_us(setup: EngineSetup, size: int, count: int) -> float:
    """Time of the quality tests per reading."""
    state, ready = PipelineState(), []
    for batch in batches(samples(count, 0), size):
        state, readings = process(setup.pipeline, state, batch, batch.samples[-1].time_us, clock_trusted=True)
        ready.append(readings)
    tracks: dict[str, Track] = {}
    begin_s = time.perf_counter()
    for readings in ready:
        check(setup.pipeline.limits, tracks, readings)
    return (time.perf_counter() - begin_s) / count * 1e6


def convert_us(setup: EngineSetup, count: int) -> float:
    """Time of one conversion from volts to tension at the cup."""
    chain = setup.pipeline.channels["field/n00"].convert
    assert chain is not None
    begin_s = time.perf_counter()
    for _ in range(count):
        chain(1.5, Unit.V, 1_780_000_000_000_000, NOTHING_KNOWN)
    return (time.perf_counter() - begin_s) / count * 1e6


def repeated(rounds: int, measure: Callable[..., float], *arguments: object) -> list[float]:
    return [measure(*arguments) for _ in range(rounds)]


def costs(setup: EngineSetup, folder: Path, count: int, rounds: int) -> None:
    whole = {size: repeated(rounds, turns_us, setup, folder, size, count) for size in SIZES}
    least = median(whole[SIZES[-1]])
    rows = [
        [f"engine turn, {size} readings", f"{median(found) / least:.1f}", middle(found), f"{1e6 / median(found):,.0f}"]
        for size, found in whole.items()
    ]
    for name, found in (
        (f"of it the pipeline, {SIZES[-1]} readings", repeated(rounds, stage_us, setup, SIZES[-1], count)),
        (f"quality tests, {SIZES[-1]} readings", repeated(rounds, tests_us, setup, SIZES[-1], count)),
        (f"quality tests, {SIZES[0]} reading", repeated(rounds, tests_us, setup, SIZES[0], count)),
        ("of it the conversion", repeated(rounds, convert_us, setup, count)),
    ):
        rows.append([name, f"{median(found) / least:.1f}", middle(found), f"{1e6 / median(found):,.0f}"])
    table(["", "ratio", "us a reading", "readings/s"], rows)


def written_bytes() -> int:
    """What this process has caused to be written, as the kernel counts it (pages of 4 KiB of files that changed)."""
    for line in Path("/proc/self/io").read_text().splitlines():
        name, _, value = line.partition(": ")
        if name == "write_bytes":
            return int(value)
    raise RuntimeError("/proc/self/io has no write_bytes")


def live(setup: EngineSetup, folder: Path, group: int) -> tuple[int, int, int]:
    """Live six hours of the farm with so many readings to a commit; return rows, bytes kept and bytes written."""
    path = folder / f"day-{group}.db"
    begin_us = SystemClock().now_us() - LIVED_STEPS * INTERVAL_US
    taken = samples(LIVED_STEPS * SENSORS, begin_us)
    connection = open_writer(path)
    before = written_bytes()
    try:
        engine = Engine(connection, setup, begin_us)
        ticked_us = begin_us
        for batch in batches(taken, group):
            now_us = batch.samples[-1].time_us
            if now_us - ticked_us >= 30 * US_PER_S:
                ticked_us = now_us
                engine.turn([Tick()], now_us)
            engine.turn([batch], now_us)
        engine.checkpoint()
    finally:
        connection.close()
    return len(taken), path.stat().st_size, written_bytes() - before


def wear(setup: EngineSetup, folder: Path) -> None:
    rows = []
    for group, words in ((1, "each for itself"), (8, "as mqtt gathers them"), (SENSORS, "a minute together")):
        count, kept, written = live(setup, folder, group)
        rows.append(
            [
                words,
                f"{written / kept:.1f}",
                f"{written * LIVED_A_DAY / 1e6:,.0f}",
                f"{kept * LIVED_A_DAY / 1e6:,.1f}",
                f"{kept / count:.0f}",
            ]
        )
    print(f"{SENSORS} sensors, one reading a minute each, checkpoints included")
    table(["readings committed", "written/kept", "MB written a day", "MB kept a day", "bytes a reading"], rows)


def main() -> None:
    arguments = options(__doc__, rounds=5, messages=10_000)
    with tempfile.TemporaryDirectory(prefix="parchd-bench-") as name:
        folder = Path(name)
        setup = setup_of(folder)
        costs(setup, folder, arguments.messages, arguments.rounds)
        wear(setup, folder)


if __name__ == "__main__":
    main()
