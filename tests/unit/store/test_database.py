"""Opening the journal: migrations, ownership, readers and the lock."""

import fcntl
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from parchd.contract import StoreError
from parchd.store.database import APPLICATION_ID, Lock, is_held, migrate, migrations, open_reader, open_writer

NEWEST = migrations()[-1][0]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.db"


def schema(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    return connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name").fetchall()


def pragma(connection: sqlite3.Connection, name: str) -> object:
    return connection.execute(f"PRAGMA {name}").fetchone()[0]


@pytest.fixture
def old(path: Path) -> Path:
    """A journal as the first release left it, with a reading in it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.executescript(migrations()[0][1])
        connection.execute("INSERT INTO channel VALUES (1, 'bus1/n20')")
        connection.execute("INSERT INTO journal VALUES (5, 1, 1, 6, 33.0, 5, 1, -33.0, 33.0, 1, 0, 0, '')")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA user_version = 1")
    return path


def test_migrations_are_numbered_without_a_gap() -> None:
    assert [number for number, _ in migrations()] == list(range(1, NEWEST + 1))


def test_a_fresh_schema_is_the_one_that_migrations_lead_to_step_by_step(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with closing(open_writer(path)) as fresh:
        wanted = schema(fresh)
        assert (pragma(fresh, "user_version"), pragma(fresh, "application_id")) == (NEWEST, APPLICATION_ID)
    every = migrations()
    for number, _ in every:
        monkeypatch.setattr("parchd.store.database.migrations", lambda number=number: every[:number])
        with closing(open_writer(tmp_path / "steps.db")) as stepped:
            assert pragma(stepped, "user_version") == number
            found = schema(stepped)
    assert found == wanted


def test_an_older_journal_opens_with_all_that_was_in_it(old: Path) -> None:
    with closing(open_writer(old)) as connection, closing(open_writer(old.with_name("new.db"))) as fresh:
        assert schema(connection) == schema(fresh)
        assert pragma(connection, "user_version") == NEWEST
        assert connection.execute(
            "SELECT name, tension_kpa FROM journal JOIN channel ON id = channel_id"
        ).fetchall() == [("bus1/n20", 33.0)]


def test_a_migration_that_breaks_leaves_the_journal_as_it_was(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = migrations()[:2]
    broken = [first, (2, second[1] + "\nINSERT INTO nowhere VALUES (1);")]
    monkeypatch.setattr("parchd.store.database.migrations", lambda: broken)
    with pytest.raises(StoreError, match="not a usable journal"):
        open_writer(old)
    with closing(sqlite3.connect(old)) as connection:
        assert pragma(connection, "user_version") == 1
        assert "alarm" not in dict(schema(connection))


def test_opening_twice_migrates_once(path: Path) -> None:
    with closing(open_writer(path)) as first:
        before = schema(first)
        migrate(first, path)
        assert schema(first) == before


def test_the_writer_loses_nothing_on_a_power_cut(path: Path) -> None:
    with closing(open_writer(path)) as connection:
        assert pragma(connection, "journal_mode") == "wal"
        assert pragma(connection, "synchronous") == 2  # FULL


def test_folders_that_are_missing_are_made(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "journal.db"
    with closing(open_writer(path)):
        assert path.is_file()


def test_another_sqlite_file_is_refused_and_left_untouched(path: Path) -> None:
    with closing(sqlite3.connect(path)) as theirs:
        theirs.execute("CREATE TABLE recipes (name TEXT)")
        theirs.commit()
    before = path.read_bytes()
    for opened in (open_writer, open_reader):
        with pytest.raises(StoreError, match="not a journal of parchd"):
            opened(path)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_a_journal_of_a_newer_parchd_is_refused(path: Path) -> None:
    with closing(open_writer(path)) as connection:
        connection.execute(f"PRAGMA user_version = {NEWEST + 1}")
    for opened in (open_writer, open_reader):
        with pytest.raises(StoreError, match=f"newer parchd .schema {NEWEST + 1}"):
            opened(path)


def test_a_file_that_is_no_database_is_refused(path: Path) -> None:
    path.write_text("tomorrow's shopping list " * 100)
    with pytest.raises(StoreError, match="not a usable journal"):
        open_writer(path)
    with pytest.raises(StoreError, match="cannot be read"):
        open_reader(path)


def test_a_folder_in_its_place_is_refused(path: Path) -> None:
    path.mkdir()
    with pytest.raises(StoreError, match="cannot be opened"):
        open_writer(path)
    with pytest.raises(StoreError, match="no journal yet"):
        open_reader(path)


def test_a_file_where_a_folder_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("")
    with pytest.raises(StoreError, match="cannot be opened"):
        open_writer(tmp_path / "state" / "journal.db")
    with pytest.raises(StoreError, match="cannot be written"):
        Lock(tmp_path / "state" / "journal.db")


def test_a_reader_cannot_write(path: Path) -> None:
    with closing(open_writer(path)), closing(open_reader(path)) as reader:
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            reader.execute("INSERT INTO meta VALUES ('a', 'b')")
        assert reader.execute("SELECT count(*) FROM meta").fetchone() == (0,)


def test_a_reader_sees_what_is_committed_and_no_more(path: Path) -> None:
    with closing(open_writer(path)) as writer, closing(open_reader(path)) as reader:
        writer.execute("BEGIN IMMEDIATE")
        writer.execute("INSERT INTO meta VALUES ('a', 'b')")
        assert reader.execute("SELECT count(*) FROM meta").fetchone() == (0,)
        writer.execute("COMMIT")
        assert reader.execute("SELECT count(*) FROM meta").fetchone() == (1,)


def test_a_reader_finds_paths_with_odd_signs(tmp_path: Path) -> None:
    path = tmp_path / "north block? 50% #1.db"
    with closing(open_writer(path)), closing(open_reader(path)) as reader:
        assert pragma(reader, "user_version") == NEWEST


def test_a_reader_does_not_make_a_journal(path: Path) -> None:
    with pytest.raises(StoreError, match="no journal yet"):
        open_reader(path)
    assert not path.exists()


def test_a_reader_says_that_an_older_journal_must_be_brought_up_to_date_first(old: Path) -> None:
    with pytest.raises(StoreError, match="has schema 1"):
        open_reader(old)


def test_a_second_daemon_is_refused_until_the_first_has_gone(path: Path) -> None:
    first = Lock(path)
    with pytest.raises(StoreError, match="another daemon"):
        Lock(path)
    first.release()
    Lock(path).release()


def test_the_lock_of_one_journal_is_not_that_of_another(path: Path) -> None:
    first, second = Lock(path), Lock(path.with_name("bench.db"))
    first.release()
    second.release()


def test_others_may_ask_whether_a_daemon_holds_a_journal(path: Path) -> None:
    assert not is_held(path)
    lock = Lock(path)
    assert is_held(path)
    lock.release()
    assert not is_held(path)


def test_who_may_not_look_at_the_lock_takes_the_journal_for_held(tmp_path: Path) -> None:
    (tmp_path / "journal.db.lock").mkdir()
    assert is_held(tmp_path / "journal.db")


def test_one_who_only_asks_does_not_keep_a_daemon_from_starting(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Lock(path).release()
    with path.with_name(path.name + ".lock").open("rb") as asking:
        fcntl.flock(asking, fcntl.LOCK_SH | fcntl.LOCK_NB)
        monkeypatch.setattr("time.sleep", lambda _: fcntl.flock(asking, fcntl.LOCK_UN))
        Lock(path).release()
