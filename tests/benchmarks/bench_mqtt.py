"""Messages a second through a real broker: parchd against a bare callback and against what one would write instead."""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from farm import FILTER, configuration, messages
from measuring import MeasuredDaemon, middle, options, table
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from parchd.testing.broker import Mosquitto
from parchd.testing.publisher import Publisher
from parchd.testing.series import VictoriaMetrics

WINDOW = 1000
QUIET = "autosave_interval 3600"
CLIENT = "bench"
HANDMADE = Path(__file__).with_name("handmade.py")


@dataclass(frozen=True, slots=True)
class Run:
    """One queue that was drained: messages, from the first that came to the last that was safe, and processor time."""

    count: int
    seconds: float
    cpu_s: float

    @property
    def rate(self) -> float:
        return self.count / self.seconds

    @property
    def cpu_us(self) -> float:
        return self.cpu_s / self.count * 1e6


def fill(broker: Mosquitto, count: int) -> None:
    """Leave a session with so many messages at the broker."""
    client = Client(CallbackAPIVersion.VERSION2, CLIENT, clean_session=False)

    def leave(*_: object) -> None:
        client.disconnect()

    client.on_subscribe = leave
    client.connect(broker.host, broker.port)
    client.subscribe(FILTER, qos=1)
    client.loop_forever()
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish(messages(count, end_ms=time.time_ns() // 1_000_000))


def drain_by_hand(way: str, broker: Mosquitto, url: str, count: int) -> Run:
    """Drain the queue with a script."""
    command = [sys.executable, str(HANDMADE), way, CLIENT, str(broker.port), url, str(count)]
    said = subprocess.run(command, check=True, capture_output=True, text=True, timeout=300)
    found = json.loads(said.stdout)
    return Run(count, found["seconds"], found["cpu_s"])


def drain_by_daemon(broker: Mosquitto, url: str | None, count: int) -> Run:
    """Drain the queue with the daemon, until all is committed; check that all is there."""
    with tempfile.TemporaryDirectory(prefix="parchd-bench-") as folder:
        config = configuration(Path(folder), broker.port, CLIENT, url)
        with MeasuredDaemon(config) as daemon:
            daemon.wait_until(lambda: daemon.rows() > 0)
            cpu_s = daemon.cpu_s
            daemon.wait_until(lambda: daemon.rows() >= count)
            done_s, cpu_s = time.time(), daemon.cpu_s - cpu_s
            first_us = daemon.ask("SELECT min(received_us) FROM journal") or 0.0
            stored = daemon.ask("SELECT count(*) FROM journal")
    if stored != count:
        raise RuntimeError(f"{stored} of {count} messages are in the journal")
    return Run(count, done_s - first_us / 1e6, cpu_s)


Way = Callable[[int], Run]


def measure(ways: dict[str, tuple[Way, int]], broker: Mosquitto, rounds: int) -> dict[str, list[Run]]:
    """Drain a queue of its own for each way, one after another, again and again."""
    runs: dict[str, list[Run]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, (way, count) in ways.items():
            fill(broker, count)
            runs[name].append(way(count))
    return runs


def report(title: str, runs: dict[str, list[Run]], yardstick: str) -> None:
    print(title)
    per_round = [run.rate for run in runs[yardstick]]
    rows = []
    for name, found in runs.items():
        ratios = [run.rate / other for run, other in zip(found, per_round, strict=True)]
        rate, cpu_us = median(run.rate for run in found), median(run.cpu_us for run in found)
        rows.append([name, middle(ratios), f"{rate:,.0f}", f"{cpu_us:.1f}", f"{found[0].count:,}"])
    table(["", f"ratio to {yardstick}", "messages/s", "CPU us each", "messages"], rows)


def aims(runs: dict[str, list[Run]]) -> None:
    """Print the ratios that have an aim."""
    rate = {name: median(run.rate for run in found) for name, found in runs.items()}
    wanted = (("bare", 0.5), ("synchronous", 10.0), ("batching", 1.5))
    rows = [[f"parchd / {name}", f"{rate['parchd'] / rate[name]:.2f}", f">= {aim}"] for name, aim in wanted]
    table(["aim", "measured", "wanted"], rows)


def main() -> None:
    arguments = options(__doc__, rounds=5, messages=50_000)
    many, few = arguments.messages, max(100, arguments.messages // 20)
    with VictoriaMetrics() as series:
        with Mosquitto(max_inflight=WINDOW, settings=[QUIET]) as broker:
            by_hand = {
                way: ((lambda count, way=way: drain_by_hand(way, broker, series.url, count)), size)
                for way, size in (("bare", many), ("batching", many), ("synchronous", few))
            }
            by_daemon: dict[str, tuple[Way, int]] = {
                "parchd": (lambda count: drain_by_daemon(broker, None, count), many),
                "parchd, with its sink": (lambda count: drain_by_daemon(broker, series.url, count), many),
            }
            runs = measure({**by_hand, **by_daemon}, broker, arguments.rounds)
        report(f"A window of {WINDOW} messages in flight", runs, "bare")
        aims(runs)
        with Mosquitto(settings=[QUIET]) as broker:
            small: dict[str, tuple[Way, int]] = {
                "bare": (lambda count: drain_by_hand("bare", broker, series.url, count), many),
                "parchd": (lambda count: drain_by_daemon(broker, None, count), many),
            }
            runs = measure(small, broker, arguments.rounds)
        report("The broker's default: 20 messages in flight", runs, "bare")


if __name__ == "__main__":
    main()
