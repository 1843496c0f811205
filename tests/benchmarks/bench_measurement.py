"""Converting whole columns, and computing a stored span of readings anew: per second, and against one by one."""

import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from measuring import middle, table

from parchd.contract import Place, Unit
from parchd.physics.adc import Adc
from parchd.physics.calibration import Calibration
from parchd.physics.transducers import Ratiometric
from parchd.pipeline.columns import ColumnConversion
from parchd.pipeline.convert import NOTHING_KNOWN, compile_conversion
from parchd.pipeline.setup import PipelineSetup, SiteSetup, TensiometerSetup
from parchd.store.database import open_writer
from parchd.store.journal import Journal
from parchd.store.reprocess import reprocess

ROUNDS = 5
COLUMN = 2_000_000
SINGLE = 50_000
CHANNELS = 12
STORED = 600_000
BEGIN_US, STEP_US = 1_780_000_000_000_000, 900_000_000
ALL_TIME_US = (0, 2**62)
POINTS = tuple((1.01 * kpa + 0.3 + 0.02 * (n % 3 - 1), kpa) for n, kpa in enumerate(range(0, -90, -10)))


def setup(number: int = 0, height_m: float = 0.45) -> TensiometerSetup:
    """A calibrated ratiometric transducer behind a 12-bit converter, the chain of most boards."""
    return TensiometerSetup(
        Place("Quillmere Orchard", "north", "post", f"n{number}", 0.3), f"bus1/a{number}", Ratiometric(0.0, -100.0),
        height_m, usable_limit_kpa=80.0, lowest_kpa=-15.0, highest_kpa=99.0, interval_s=900.0, adc=Adc(12, 5.0),
        calibrations=(Calibration(0, "2026-01-01", POINTS),),
    )  # fmt: skip


def per_second(count: int, work: Callable[[], object]) -> float:
    begin_s = time.perf_counter()
    work()
    return count / (time.perf_counter() - begin_s)


def converting() -> None:
    codes = np.random.default_rng(1).integers(300, 3500, COLUMN).astype(float)
    times_us = BEGIN_US + np.arange(COLUMN) * 1000
    columns, one = ColumnConversion(setup()), compile_conversion(setup())
    few = list(zip(codes[:SINGLE].tolist(), times_us[:SINGLE].tolist(), strict=True))
    column_rates = [per_second(COLUMN, lambda: columns(codes, Unit.COUNTS, times_us)) for _ in range(ROUNDS)]
    single_rates = [
        per_second(SINGLE, lambda: [one(code, Unit.COUNTS, us, NOTHING_KNOWN) for code, us in few])
        for _ in range(ROUNDS)
    ]
    ratios = [a / b for a, b in zip(column_rates, single_rates, strict=True)]
    table(
        ("convert, flag, uncertainty", "million/s", "ratio"),
        (
            ("one by one", middle([rate / 1e6 for rate in single_rates], 3), "1"),
            ("in columns (aim: 5 million/s)", middle([rate / 1e6 for rate in column_rates]), middle(ratios, 0)),
        ),
    )


def computing_anew(folder: Path) -> None:
    connection = open_writer(folder / "journal.db")
    connection.execute("BEGIN")
    connection.executemany("INSERT INTO channel (name) VALUES (?)", [(f"bus1/a{n}",) for n in range(CHANNELS)])
    connection.executemany(
        "INSERT INTO journal VALUES (?,?,?,?,?,1,1,NULL,NULL,1,0,0,'',NULL,NULL)",
        (
            (us := BEGIN_US + row // CHANNELS * STEP_US, row % CHANNELS + 1, row + 1, us + 5, float(500 + row % 2500))
            for row in range(STORED)
        ),
    )
    connection.execute("COMMIT")
    journal = Journal(connection)

    def anew(height_m: float) -> None:
        site = PipelineSetup(
            SiteSetup("Quillmere Orchard", "UTC", 0.0), tuple(setup(n, height_m) for n in range(CHANNELS))
        )
        with journal.transaction():
            reprocess(connection, journal, site, {}, ALL_TIME_US, lambda _part: None)

    anew(0.45)
    heights_m = iter(0.45 + 0.01 * (number + 1) for number in range(ROUNDS))
    changed = [per_second(STORED, lambda: anew(next(heights_m))) for _ in range(ROUNDS)]
    unchanged = [per_second(STORED, lambda: anew(0.45 + 0.01 * ROUNDS)) for _ in range(ROUNDS)]
    connection.close()
    table(
        ("reprocess: read, convert, check, write", "thousand/s"),
        (
            ("nothing comes out different (aim: 300)", middle([rate / 1e3 for rate in unchanged], 0)),
            ("every row is written again (aim: 300)", middle([rate / 1e3 for rate in changed], 0)),
        ),
    )


if __name__ == "__main__":
    converting()
    with tempfile.TemporaryDirectory() as made:
        computing_anew(Path(made))
