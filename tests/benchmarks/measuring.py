"""The daemon as a process that is measured, and tables of what was measured."""

import argparse
import contextlib
import sqlite3
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from statistics import median

import psutil

from parchd.contract import StoreError
from parchd.store.database import open_reader
from parchd.testing.process import DaemonProcess

_LOOK_S = 0.01
_PATIENCE_S = 300.0


class MeasuredDaemon(DaemonProcess):
    """``parchd run`` on a configuration whose journal is ``journal.db`` beside it."""

    def __init__(self, config: Path, environ: Mapping[str, str] | None = None) -> None:
        super().__init__(config, environ=environ)
        self._journal = config.with_name("journal.db")
        self._reader: sqlite3.Connection | None = None

    def __exit__(self, *exception: object) -> None:
        if self._reader is not None:
            self._reader.close()
        super().__exit__(*exception)

    @property
    def cpu_s(self) -> float:
        """Processor time of all its threads, in the kernel too."""
        times = psutil.Process(self.pid).cpu_times()
        return float(times.user + times.system)

    def rows(self) -> int:
        """How many rows are committed; cheap."""
        return int(self.ask("SELECT coalesce(max(seq), 0) FROM journal") or 0)

    def ask(self, query: str) -> float | None:
        """Ask the journal for one number; ``None``: there is no journal yet, or no such number in it."""
        with contextlib.suppress(StoreError):
            self._reader = self._reader or open_reader(self._journal)
            (found,) = self._reader.execute(query).fetchone()
            return None if found is None else float(found)
        return None

    def wait_until(self, reached: Callable[[], bool], look_s: float = _LOOK_S) -> None:
        """Look again and again until it holds.

        Raises:
            RuntimeError: the daemon ended, or it takes too long; the text has the end of its log.
        """
        deadline_s = time.monotonic() + _PATIENCE_S
        while not reached():
            if self.has_ended or time.monotonic() > deadline_s:
                raise RuntimeError(f"the daemon does not get there: {self.log[-2000:]}")
            time.sleep(look_s)


def options(about: str | None, **defaults: float) -> argparse.Namespace:
    """Read ``--name number`` from the command line; those of other benchmarks are passed over."""
    parser = argparse.ArgumentParser(description=about)
    for name, value in defaults.items():
        parser.add_argument(f"--{name}", type=type(value), default=value, help=f"default: {value}")
    return parser.parse_known_args()[0]


def middle(values: Sequence[float], decimals: int = 2) -> str:
    """Show the median and the span of several runs.

    >>> middle([3.0, 1.0, 2.0])
    '2.00 (1.00-3.00)'
    """
    return f"{median(values):.{decimals}f} ({min(values):.{decimals}f}-{max(values):.{decimals}f})"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table; the first column to the left, numbers to the right."""
    widths = [max(len(row[column]) for row in (head, *rows)) for column in range(len(head))]
    for row in (head, ["-" * width for width in widths], *rows):
        first, *rest = (f"{cell:{'<' if not i else '>'}{widths[i]}}" for i, cell in enumerate(row))
        print("  ".join((first, *rest)), flush=True)
    print(flush=True)
