"""Time-series servers for tests: the real programs on loopback, and a scripted one.

`VictoriaMetrics` takes the InfluxDB 2 write API, so a sink can be tried end to end against it. `Influx1` (influxd
1.x) does not, but it judges line protocol strictly. `FakeInflux` answers as a test tells it to.
"""

import http.client
import json
import re
import shutil
import socket
import subprocess
import tempfile
import time
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self
from urllib.parse import urlencode

from parchd.testing.influx_fake import FakeInflux

__all__ = ["Answer", "FakeInflux", "Influx1", "Point", "Series", "VictoriaMetrics"]

_READY_S = 20.0
_STOP_S = 20.0
_YEAR_2100_S = 4_102_444_800


@dataclass(frozen=True, slots=True)
class Answer:
    """An HTTP answer."""

    status: int
    text: str


@dataclass(frozen=True, slots=True)
class Series:
    """One exported series: its labels (``__name__`` among them) and value by time in milliseconds."""

    labels: Mapping[str, str]
    values: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Point:
    """One point read back from influxd: tags with a value, fields with a value, time in microseconds.

    Integers come as floats: the server's JSON writes both alike.
    """

    tags: Mapping[str, str]
    fields: Mapping[str, float | bool]
    time_us: int


def free_port() -> int:
    """Find a TCP port on loopback that nobody uses now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


class _Server(ABC):
    """A program that serves HTTP on loopback, with its data in a folder that goes away with it."""

    program: str

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="parchd-test-")
        self.folder = Path(self._folder.name)
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        try:
            self.start()
        except BaseException:
            self._folder.cleanup()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()
        self._folder.cleanup()

    def start(self) -> None:
        """Start, or start again with the same data and port; return when it answers."""
        path = shutil.which(self.program) or shutil.which(self.program, path="/usr/sbin:/sbin")
        if path is None:
            raise FileNotFoundError(f"{self.program} is not installed")
        with (self.folder / "log").open("ab") as log:
            command = [path, *self._arguments()]
            self._process = subprocess.Popen(command, stdout=log, stderr=log)  # noqa: S603 -- a fixed program
        self._wait_until_ready()

    def stop(self) -> None:
        """End it as an operator would; what it acknowledged is on disk."""
        if self._process is not None:
            self._process.terminate()
            self._process.wait(_STOP_S)
            self._process = None

    def kill(self) -> None:
        """End it as a power cut would."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(_STOP_S)
            self._process = None

    def get(self, path: str, **query: str) -> Answer:
        return self._ask("GET", f"{path}?{urlencode(query)}", b"")

    def post(self, path: str, body: bytes, **query: str) -> Answer:
        return self._ask("POST", f"{path}?{urlencode(query)}", body)

    def _ask(self, method: str, target: str, body: bytes) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            connection.request(method, target, body)
            response = connection.getresponse()
            return Answer(response.status, response.read().decode())
        finally:
            connection.close()

    def _wait_until_ready(self) -> None:
        deadline = time.monotonic() + _READY_S
        while not self._is_ready():
            if self._process is None or self._process.poll() is not None or time.monotonic() > deadline:
                self.kill()
                log = (self.folder / "log").read_text(errors="replace")
                raise RuntimeError(f"{self.program} did not start: {log[-2000:]}")
            time.sleep(0.02)

    def _is_ready(self) -> bool:
        try:
            return self.get(self._ready_path).status < 300
        except (OSError, http.client.HTTPException):
            return False

    _ready_path: str

    @abstractmethod
    def _arguments(self) -> Sequence[str]: ...


class VictoriaMetrics(_Server):
    """Debian's victoria-metrics: takes the InfluxDB 2 write API, stores milliseconds, one value per series and time."""

    program = "victoria-metrics"
    _ready_path = "/health"

    def _arguments(self) -> Sequence[str]:
        return (
            f"-httpListenAddr=127.0.0.1:{self.port}",
            f"-storageDataPath={self.folder / 'data'}",
            "-retentionPeriod=100y",
            "-search.latencyOffset=0s",
            "-dedup.minScrapeInterval=1ms",
            "-loggerLevel=ERROR",
        )

    def export(self, match: str = '{__name__!=""}') -> list[Series]:
        """Read all series that ``match`` selects, e.g. ``{__name__=~"tension_.*"}``."""
        self.get("/internal/force_flush")
        query = {"match[]": match, "start": "0", "end": str(_YEAR_2100_S)}
        answer = self.get("/api/v1/export", **query)
        rows = [json.loads(line) for line in answer.text.splitlines()]
        return [Series(row["metric"], dict(zip(row["timestamps"], row["values"], strict=True))) for row in rows]

    def invalid_rows(self) -> int:
        """Count the lines it could not read: it answers 204 to them all the same."""
        metrics = self.get("/metrics").text
        return sum(int(count) for count in re.findall(r'vm_rows_invalid_total\{type="influx"\} (\d+)', metrics))


class Influx1(_Server):
    """Debian's influxd 1.x: a strict judge of line protocol. It has no version 2 API."""

    program = "influxd"
    database = "parchd"
    _ready_path = "/ping"

    def __init__(self) -> None:
        super().__init__()
        self._rpc_port = free_port()

    def __enter__(self) -> Self:
        super().__enter__()
        self.post("/query", b"", q=f'CREATE DATABASE "{self.database}"')
        return self

    def _arguments(self) -> Sequence[str]:
        config = self.folder / "influxdb.conf"
        config.write_text(
            f'reporting-disabled = true\nbind-address = "127.0.0.1:{self._rpc_port}"\n'
            f'[meta]\ndir = "{self.folder}/meta"\n'
            f'[data]\ndir = "{self.folder}/data"\nwal-dir = "{self.folder}/wal"\nquery-log-enabled = false\n'
            f"[monitor]\nstore-enabled = false\n"
            f'[http]\nbind-address = "127.0.0.1:{self.port}"\nlog-enabled = false\n'
        )
        return ("-config", str(config))

    def write(self, lines: Sequence[str]) -> Answer:
        """Write lines with times in microseconds."""
        return self.post("/write", "\n".join(lines).encode(), db=self.database, precision="u")

    def query(self, statement: str) -> object:
        """Run one InfluxQL statement; times come in microseconds."""
        answer = self.get("/query", db=self.database, epoch="u", q=statement)
        if answer.status != 200:
            raise RuntimeError(f"{statement}: {answer.text}")
        results: object = json.loads(answer.text)["results"][0]
        return results

    def points(self, measurement: str, tag: str, value: str) -> list[Point]:
        """Read all points of a measurement where ``tag`` is ``value``."""
        statement = f'SELECT * FROM "{measurement}" WHERE "{tag}" = \'{value}\' GROUP BY *'  # noqa: S608 -- all three are the test's own
        result = self.query(statement)
        assert isinstance(result, dict)
        return [_point(series, row) for series in result.get("series", []) for row in series["values"]]


def _point(series: Mapping[str, Mapping[str, str]], row: Sequence[float | int | bool | None]) -> Point:
    names = list(series["columns"])
    (time_us, *values) = row
    fields = {
        name: value if isinstance(value, bool) else float(value)
        for name, value in zip(names[1:], values, strict=True)
        if value is not None
    }
    assert isinstance(time_us, int)
    return Point({key: value for key, value in series["tags"].items() if value}, fields, time_us)
