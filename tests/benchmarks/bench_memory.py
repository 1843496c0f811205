"""How much memory the daemon takes with a hundred sensors, and how soon after its start a reading is stored."""

import os
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

from bench_mqtt import CLIENT, QUIET, WINDOW, fill
from farm import SENSORS, configuration
from measuring import MeasuredDaemon, middle, options, table

from parchd.testing.broker import Mosquitto
from parchd.testing.pages import free_port
from parchd.testing.series import VictoriaMetrics

LARGEST_BYTES = 80e6
PAGES_BYTES = 8e6
LONGEST_S = 1.5
LOOK_S = 0.002


def first_reading_s(broker: Mosquitto, url: str) -> float:
    """Time from the start of the process until the first reading is committed; the sensors' messages wait for it."""
    fill(broker, SENSORS)
    with tempfile.TemporaryDirectory(prefix="parchd-bench-") as folder:
        config = configuration(Path(folder), broker.port, CLIENT, url)
        begin_s = time.monotonic()
        with MeasuredDaemon(config) as daemon:
            daemon.wait_until(lambda: daemon.rows() > 0, LOOK_S)
            taken_s = time.monotonic() - begin_s
            daemon.wait_until(lambda: daemon.rows() >= SENSORS)
            daemon.stop()
    return taken_s


def without_numpy(folder: Path) -> Mapping[str, str]:
    """An environment in which numpy cannot be found, as where parchd is installed without the tools for its tests.

    influxdb-client imports numpy where it finds it, though nothing of ours needs it.
    """
    (folder / "numpy.py").write_text('raise ModuleNotFoundError("left out", name="numpy")\n', encoding="utf-8")
    path = os.environ.get("PYTHONPATH")
    return {**os.environ, "PYTHONPATH": f"{folder}:{path}" if path else str(folder)}


def resident(broker: Mosquitto, url: str, count: int, *, numpy: bool, pages: bool = False) -> tuple[int, int]:
    """Memory with a few readings, and after so many of them that are copied to the sink as well.

    Args:
        pages: also serve pages for links in messages.
    """
    fill(broker, SENSORS)
    with tempfile.TemporaryDirectory(prefix="parchd-bench-") as name:
        folder = Path(name)
        environ = None if numpy else without_numpy(folder)
        config = configuration(folder, broker.port, CLIENT, url)
        if pages:
            config.write_text(f'{config.read_text("utf-8")}\n[web]\nlisten = "127.0.0.1:{free_port()}"\n', "utf-8")
        with MeasuredDaemon(config, environ) as daemon:
            daemon.wait_until(lambda: (daemon.ask("SELECT max(seq) FROM sink") or 0) >= SENSORS)
            few = daemon.resident_bytes
            fill(broker, count)
            daemon.wait_until(lambda: (daemon.ask("SELECT count(*) FROM journal") or 0) >= SENSORS + count, 0.2)
            newest = daemon.rows()
            daemon.wait_until(lambda: (daemon.ask("SELECT max(seq) FROM sink") or 0) >= newest)
            many = daemon.resident_bytes
            daemon.stop()
    return few, many


def main() -> None:
    arguments = options(__doc__, rounds=5, messages=50_000)
    with VictoriaMetrics() as series, Mosquitto(max_inflight=WINDOW, settings=[QUIET]) as broker:
        starts = [first_reading_s(broker, series.url) for _ in range(arguments.rounds)]
        few, many = resident(broker, series.url, arguments.messages, numpy=False)
        _, beside = resident(broker, series.url, arguments.messages, numpy=True)
        _, served = resident(broker, series.url, arguments.messages, numpy=False, pages=True)
    after = f"after {arguments.messages:,} readings"
    measured = (
        ("MB resident, first readings", few),
        (f"MB resident, {after}", many),
        (f"MB resident, {after}, numpy installed", beside),
    )
    rows = [
        [name, f"{found / LARGEST_BYTES:.2f}", f"{found / 1e6:.1f}", f"< {LARGEST_BYTES / 1e6:.0f}"]
        for name, found in measured
    ]
    more = served - many
    rows.append(["MB more with pages", f"{more / PAGES_BYTES:.2f}", f"{more / 1e6:.1f}", f"< {PAGES_BYTES / 1e6:.0f}"])
    shares = [taken_s / LONGEST_S for taken_s in starts]
    rows.append(["s from the start to the first stored reading", middle(shares), middle(starts), f"< {LONGEST_S}"])
    print(f"{SENSORS} sensors over MQTT, a copy to a time-series server, mail")
    table(["", "ratio to the aim", "measured", "aim"], rows)


if __name__ == "__main__":
    main()
