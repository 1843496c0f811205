"""Commands as a user types them, on a farm that has a journal."""

import contextlib
import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from parchd.app.setup import engine_setup
from parchd.cli.main import main
from parchd.clock import SystemClock
from parchd.config import load
from parchd.store.database import Lock
from parchd.testing.bench import Bench, engine_on
from parchd.testing.farm import farm, mqtt_source


@dataclass(frozen=True, slots=True)
class Said:
    """What a command said, and its exit code."""

    code: int
    out: str
    err: str


def parchd(*words: object) -> Said:
    """Run a command in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = main([str(word) for word in words])
        except SystemExit as end:  # argparse
            code = int(end.code or 0)
    return Said(code, out.getvalue(), err.getvalue())


class Farm:
    """A farm of two tensiometers in Lisbon's time, ``t0`` and ``t1`` on ``field/c0`` and ``field/c1``, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.config = folder / "farm.toml"
        self.journal = folder / "parchd.db"
        self.write()

    def write(self, *parts: str) -> None:
        """Write the configuration, with further parts."""
        self.config.write_text(farm(mqtt_source(1), *parts, tensiometers=2))

    @contextmanager
    def engine(
        self, now_us: int | None = None, recipients: Mapping[str, tuple[str, ...]] | None = None
    ) -> Iterator[Bench]:
        """An engine on the farm's journal, started now unless told otherwise."""
        setup = engine_setup(load(self.config, {}, None), dict(recipients or {}))
        with engine_on(self.journal, setup, SystemClock().now_us() if now_us is None else now_us) as bench:
            yield bench

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the journal, as a daemon that lives does."""
        lock = Lock(self.journal)
        try:
            yield
        finally:
            lock.release()
