"""An engine on a database of its own, without threads and without a clock."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from parchd.app.engine import Engine
from parchd.app.messages import Message, Tick
from parchd.app.setup import EngineSetup
from parchd.contract import SampleBatch
from parchd.store.database import open_writer
from parchd.testing.site import START_US, engine_setup_of

MEMORY = Path(":memory:")
"""A path for databases that need no disk."""


class Bench:
    """An engine on a database of its own. Times are arguments; nothing here reads a clock."""

    def __init__(self, path: Path, setup: EngineSetup, now_us: int = START_US) -> None:
        self.path = path
        self.setup = setup
        self._open(now_us)

    def turn(self, now_us: int, *messages: Message) -> None:
        self.engine.turn(messages, now_us)

    def feed(self, *batches: SampleBatch) -> None:
        """Take each batch in a turn of its own, at the time of its last sample."""
        for taken in batches:
            self.turn(taken.samples[-1].time_us, taken)

    def tick(self, *times_us: int) -> None:
        for now_us in times_us:
            self.turn(now_us, Tick())

    def restart(self, now_us: int, setup: EngineSetup | None = None) -> None:
        """End without a word, as after a power cut, and start again from what was committed."""
        self.setup = setup or self.setup
        if self.path == MEMORY:
            self.engine = Engine(self.connection, self.setup, now_us)
        else:
            self.connection.close()
            self._open(now_us)

    def rows(self, query: str, *arguments: object) -> list[tuple[Any, ...]]:
        return self.connection.execute(query, arguments).fetchall()

    def events(self) -> list[tuple[str, str, str]]:
        """Kind, subject and change of all that happened to alarms, in order."""
        return self.rows("SELECT kind, subject, change FROM alarm_event ORDER BY id")

    def subjects(self) -> list[str]:
        """Subject lines of all messages, in the order they were queued."""
        return [subject for (subject,) in self.rows("SELECT json_extract(notice, '$.subject') FROM outbox ORDER BY id")]

    def dump(self, tables: Sequence[str] = ()) -> list[str]:
        """The database as SQL; only these tables, if any are named."""
        lines = list(self.connection.iterdump())
        return [text for text in lines if not tables or text.startswith(tuple(f'INSERT INTO "{t}"' for t in tables))]

    def _open(self, now_us: int) -> None:
        self.connection = open_writer(self.path)
        self.engine = Engine(self.connection, self.setup, now_us)


@contextmanager
def engine_on(path: Path, setup: EngineSetup | None = None, now_us: int = START_US) -> Iterator[Bench]:
    """Run an engine on a database at ``path`` (a folder: on a file in it) and close it afterwards."""
    bench = Bench(path / "journal.db" if path.is_dir() else path, setup or engine_setup_of(), now_us)
    try:
        yield bench
    finally:
        bench.connection.close()


def refuse(connection: sqlite3.Connection, action: int | None, name: str = "") -> None:
    """Make SQLite refuse an action from now on, such as ``sqlite3.SQLITE_INSERT`` into a table; ``None``: nothing."""

    def judge(asked: int, first: str | None, *_: str | None) -> int:
        return sqlite3.SQLITE_DENY if asked == action and first == name else sqlite3.SQLITE_OK

    connection.set_authorizer(None if action is None else judge)
