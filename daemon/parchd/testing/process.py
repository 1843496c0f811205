"""The daemon as a process of its own: started, watched through its log, ended in peace or by force."""

import re
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Self

from parchd.clock import SystemClock

_SLICE_S = 0.005
_PATIENCE_S = 20.0
_EVENT = re.compile(r"\[([a-z0-9_-]+\.[a-z0-9_-]+)\]$", re.MULTILINE)


class DaemonProcess:
    """``parchd run CONFIG``. Leaving the ``with`` block kills it if it still runs.

    Args:
        config: its configuration; the log is kept beside it, over several starts.
        arguments: further arguments of the command.
        environ: its environment; left out: ours.
        program: the module that is run, with its own arguments.
    """

    def __init__(
        self,
        config: Path,
        *,
        arguments: Sequence[str] = (),
        environ: Mapping[str, str] | None = None,
        program: Sequence[str] = ("parchd",),
    ) -> None:
        self._command = [sys.executable, "-m", *program, "run", str(config), *arguments]
        self._environ = None if environ is None else dict(environ)
        self._log = config.with_suffix(".log")
        self._began = 0
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._process is not None and self._process.poll() is None:
            self.kill()

    def start(self) -> None:
        """Start it; what it logs from here on is `log`."""
        self._began = self._log.stat().st_size if self._log.exists() else 0
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, stdin=subprocess.DEVNULL, stderr=log, env=self._environ)  # noqa: S603 - our own arguments

    @property
    def pid(self) -> int:
        return self._running.pid

    @property
    def log(self) -> str:
        """What it has logged since its last start."""
        with self._log.open("rb") as log:
            log.seek(self._began)
            return log.read().decode(errors="replace")

    @property
    def events(self) -> list[str]:
        """The events it has logged since its last start, in order."""
        return _EVENT.findall(self.log)

    def wait_for(self, event: str, *, times: int = 1, timeout_s: float = _PATIENCE_S) -> None:
        """Wait until it has logged an event so often since its last start.

        Raises:
            AssertionError: it did not, or it ended; the text has the end of the log.
        """
        seen = wait_until(lambda: self.events.count(event) >= times or self.has_ended, timeout_s)
        if not seen or self.events.count(event) < times:
            state = f"ended with {self._running.poll()}" if self.has_ended else "runs"
            raise AssertionError(f"no {event} ({times} times); the daemon {state}: {self.log[-3000:]}")

    @property
    def has_ended(self) -> bool:
        return self._running.poll() is not None

    def send(self, number: signal.Signals) -> None:
        self._running.send_signal(number)

    def hang_up(self) -> None:
        """Send SIGHUP: read the configuration again."""
        self.send(signal.SIGHUP)

    def kill(self) -> None:
        """End it at once, as a power cut does."""
        self._running.kill()
        self._running.wait(_PATIENCE_S)

    def wait(self, timeout_s: float = _PATIENCE_S) -> int:
        """Wait until it has ended; return its exit code.

        Raises:
            subprocess.TimeoutExpired: it still runs.
        """
        return self._running.wait(timeout_s)

    def stop(self, timeout_s: float = _PATIENCE_S) -> int:
        """End it as an operator would; return its exit code."""
        self.send(signal.SIGTERM)
        return self.wait(timeout_s)

    @property
    def resident_bytes(self) -> int:
        """Memory it has in use now. Needs the package ``psutil``."""
        import psutil

        return int(psutil.Process(self.pid).memory_info().rss)

    @property
    def _running(self) -> subprocess.Popen[bytes]:
        assert self._process is not None, "not started"
        return self._process


def wait_until(condition: Callable[[], bool], timeout_s: float = _PATIENCE_S) -> bool:
    """Ask again and again until ``condition()`` holds; false when it does not within the time."""
    clock = SystemClock()
    deadline_s = clock.monotonic_s() + timeout_s
    while not condition():
        if clock.monotonic_s() > deadline_s:
            return False
        time.sleep(_SLICE_S)
    return True


def query(database: Path, sql: str, *arguments: object) -> list[tuple[Any, ...]]:
    """Read from a journal that a daemon may be writing; nothing while there is no journal."""
    try:
        connection = sqlite3.connect(f"{database.as_uri()}?mode=ro", uri=True, timeout=10.0)
    except sqlite3.OperationalError:
        return []
    try:
        return connection.execute(sql, arguments).fetchall()
    except sqlite3.OperationalError as error:
        if "no such table" in str(error):
            return []
        raise
    finally:
        connection.close()
