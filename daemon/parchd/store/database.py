"""Opening the journal: one connection writes, all others only read."""

import fcntl
import logging
import sqlite3
import time
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from parchd.contract import StoreError

logger = logging.getLogger(__name__)

LOCK_ATTEMPTS = 5
LOCK_PAUSE_S = 0.02
APPLICATION_ID = 0x50617263  # "Parc": tells a journal from any other SQLite file


def migrations() -> list[tuple[int, str]]:
    """The numbered migrations in order, as (number, SQL)."""
    folder = files("parchd.store") / "migrations"
    scripts = [entry for entry in folder.iterdir() if entry.name.endswith(".sql")]
    return sorted((int(script.name[:4]), script.read_text("utf-8")) for script in scripts)


def open_writer(path: Path) -> sqlite3.Connection:
    """Open, create or migrate the journal for its one writer.

    WAL with synchronous=FULL: what is committed survives a power cut on a card that honours a flush.

    Raises:
        StoreError: the folder is missing, the file is not a journal, or a newer parchd wrote it.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
    except (OSError, sqlite3.Error) as error:
        raise StoreError(f"{path}: cannot be opened ({error}); check store.path and its permissions") from error
    try:
        _check_owner(connection, path)
        for pragma in (
            "journal_mode = WAL",
            "synchronous = FULL",
            "wal_autocheckpoint = 1000",
            "journal_size_limit = 16777216",
        ):
            connection.execute(f"PRAGMA {pragma}")
        migrate(connection, path)
    except sqlite3.Error as error:
        connection.close()
        raise StoreError(f"{path}: is not a usable journal ({error})") from error
    except StoreError:
        connection.close()
        raise
    return connection


def open_reader(path: Path) -> sqlite3.Connection:
    """Open an existing journal read-only.

    Raises:
        StoreError: there is none, it is no journal of ours, or its schema is not the one this parchd knows.
    """
    if not path.is_file():
        raise StoreError(f"{path}: there is no journal yet; has the daemon run with this configuration?")
    connection = sqlite3.connect(
        f"file:{quote(str(path.resolve()))}?mode=ro",
        uri=True,
        isolation_level=None,
        check_same_thread=False,
        timeout=5.0,
    )
    try:
        connection.execute("PRAGMA query_only = 1")
        _check_current(connection, path)
    except sqlite3.Error as error:
        connection.close()
        raise StoreError(f"{path}: cannot be read ({error})") from error
    except StoreError:
        connection.close()
        raise
    return connection


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Bring the schema up to date, each migration in a transaction of its own."""
    version = _check_owner(connection, path)
    for number, script in migrations():
        if number > version:
            connection.executescript(
                f"BEGIN IMMEDIATE;\n{script}\nPRAGMA application_id = {APPLICATION_ID};\n"
                f"PRAGMA user_version = {number};\nCOMMIT;"
            )
            logger.info("journal migrated to schema %d", number, extra={"event": "store.migrated"})


def _check_owner(connection: sqlite3.Connection, path: Path) -> int:
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (owner,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if owner != APPLICATION_ID and tables:
        raise StoreError(f"{path}: is an SQLite database, but not a journal of parchd; choose another store.path")
    newest = migrations()[-1][0]
    if version > newest:
        raise StoreError(f"{path}: was written by a newer parchd (schema {version}, this one knows {newest})")
    return int(version)


def _check_current(connection: sqlite3.Connection, path: Path) -> None:
    version = _check_owner(connection, path)
    if version < migrations()[-1][0]:
        raise StoreError(f"{path}: has schema {version}, an older one; start the daemon once to bring it up to date")


class Lock:
    """Keeps a second daemon off a journal, as long as this one lives.

    Raises:
        StoreError: another daemon holds it, or the folder cannot be written.
    """

    def __init__(self, database: Path) -> None:
        path = _lock_file(database)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = path.open("w")
        except OSError as error:
            raise StoreError(f"{path}: cannot be written ({error}); check store.path and its permissions") from error
        if not self._taken():
            self._file.close()
            raise StoreError(f"{database}: another daemon writes this journal; stop it first")

    def release(self) -> None:
        self._file.close()

    def _taken(self) -> bool:
        """Try a few times: somebody who asks for the state of a daemon (`is_held`) has the lock for a moment."""
        for _ in range(LOCK_ATTEMPTS):
            try:
                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                time.sleep(LOCK_PAUSE_S)
            else:
                return True
        return False


def is_held(database: Path) -> bool:
    """Whether a daemon holds this journal now; true as well where we may not look."""
    try:
        with _lock_file(database).open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except FileNotFoundError:
        return False
    except OSError:
        return True
    return False


def _lock_file(database: Path) -> Path:
    return database.with_name(database.name + ".lock")
