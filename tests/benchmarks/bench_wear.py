"""What a hundred sensors make the daemon write: commits and bytes, which is what a memory card wears by."""

import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import psutil
from farm import SENSORS, configuration, messages
from measuring import MeasuredDaemon, options, table

from parchd.testing.broker import Mosquitto
from parchd.testing.publisher import Publisher

DAY_S = 86_400
CYCLE_S = 60.0


@dataclass(frozen=True, slots=True)
class Wear:
    """What some messages at the pace of life led to."""

    seconds: float
    messages: int
    commits: int
    written_bytes: int


def evenly(seconds: float) -> Iterator[float]:
    """Moments at which sensors speak that know nothing of each other: one after another, each once a minute."""
    return (index * CYCLE_S / SENSORS for index in range(int(seconds * SENSORS / CYCLE_S)))


def together(seconds: float) -> Iterator[float]:
    """Moments at which all sensors speak that a gateway polls: within a second, once a minute."""
    return (
        cycle * CYCLE_S + index * 1.0 / SENSORS for cycle in range(int(seconds / CYCLE_S)) for index in range(SENSORS)
    )


def live(moments: Iterator[float], seconds: float) -> Wear:
    """Run the daemon while sensors speak, in real time."""
    with (
        Mosquitto() as broker,
        tempfile.TemporaryDirectory(prefix="parchd-bench-") as folder,
        MeasuredDaemon(configuration(Path(folder), broker.port)) as daemon,
        Publisher(broker.host, broker.port) as publisher,
    ):
        daemon.wait_for("source.connected")
        time.sleep(2.0)  # the start itself is not what is measured
        written = psutil.Process(daemon.pid).io_counters().write_bytes
        count, begin_s = 0, time.monotonic()
        for moment_s, message in zip(moments, messages(100_000, end_ms=time.time_ns() // 1_000_000), strict=False):
            time.sleep(max(0.0, begin_s + moment_s - time.monotonic()))
            count += publisher.publish([message])
        daemon.wait_until(lambda: (daemon.ask("SELECT count(*) FROM journal") or 0) >= count, 0.1)
        time.sleep(max(0.0, begin_s + seconds - time.monotonic()))
        taken_s = time.monotonic() - begin_s
        written = psutil.Process(daemon.pid).io_counters().write_bytes - written
        commits = int(daemon.ask("SELECT count(DISTINCT received_us) FROM journal") or 0)
        daemon.stop()
    return Wear(taken_s, count, commits, written)


def main() -> None:
    seconds = max(CYCLE_S, options(__doc__, seconds=CYCLE_S).seconds)
    rows = []
    for words, moments in (("one after another", evenly(seconds)), ("all within a second", together(seconds))):
        wear = live(moments, seconds)
        daily = DAY_S / wear.seconds
        rows.append(
            [
                words,
                f"{wear.messages / wear.commits:.1f}",
                f"{wear.commits * daily:,.0f}",
                f"{wear.written_bytes * daily / 1e6:,.0f}",
                f"{wear.messages:,}",
            ]
        )
    print(f"{SENSORS} sensors, each once a minute, for {seconds:.0f} s; what is written is without checkpoints")
    table(["sensors speak", "readings/commit", "commits a day", "MB a day", "messages"], rows)


if __name__ == "__main__":
    main()
