"""The reserve on the disk of the journal: laid where there is room, given up when there is none."""

import os
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from parchd.app.disk import Disk
from parchd.app.messages import DiskSpace
from parchd.contract import StoreError

MEGABYTE = 1_000_000
RESERVE = MEGABYTE


def full_error() -> sqlite3.Error:
    """What SQLite really raises when a database may not grow."""
    connection = sqlite3.connect(":memory:")
    connection.execute("PRAGMA max_page_count = 2")
    try:
        connection.execute("CREATE TABLE t AS SELECT zeroblob(100000) AS x")
    except sqlite3.Error as error:
        return error
    finally:
        connection.close()
    raise AssertionError("it grew")


@pytest.fixture
def free(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """Sets what the system says to be free."""

    def say(megabytes: int) -> None:
        usage = SimpleNamespace(free=megabytes * MEGABYTE, total=8000 * MEGABYTE)
        monkeypatch.setattr(shutil, "disk_usage", lambda _folder: usage)

    return say


@pytest.fixture
def disk(tmp_path: Path) -> Disk:
    return Disk(tmp_path / "parchd.db", RESERVE)


def reserve_of(folder: Path) -> Path:
    return folder / "parchd.db.reserve"


def test_the_reserve_is_laid_where_ten_times_as_much_is_free(
    disk: Disk, tmp_path: Path, free: Callable[[int], None]
) -> None:
    free(9)
    assert disk.measure() == DiskSpace(9 * MEGABYTE, 8000 * MEGABYTE)
    assert not reserve_of(tmp_path).exists()
    free(10)
    disk.measure()
    assert reserve_of(tmp_path).stat().st_size == RESERVE
    assert reserve_of(tmp_path).stat().st_blocks * 512 >= RESERVE, "it takes the room for real"


def test_a_full_disk_gets_the_room_of_the_reserve_once(disk: Disk, tmp_path: Path, free: Callable[[int], None]) -> None:
    free(100)
    disk.measure()
    free(1)
    assert disk.make_room(full_error()) == DiskSpace(MEGABYTE, 8000 * MEGABYTE, is_full=True)
    assert not reserve_of(tmp_path).exists()
    assert disk.make_room(full_error()) is None


def test_an_error_of_another_kind_keeps_the_reserve_unless_nothing_is_free(
    disk: Disk, tmp_path: Path, free: Callable[[int], None]
) -> None:
    free(100)
    disk.measure()
    assert disk.make_room(sqlite3.OperationalError("disk I/O error")) is None
    assert reserve_of(tmp_path).exists()
    free(0)
    assert disk.make_room(sqlite3.OperationalError("disk I/O error")) is not None


def test_a_journal_that_cannot_be_opened_for_lack_of_room_says_so_by_its_cause(
    disk: Disk, free: Callable[[int], None]
) -> None:
    free(100)
    disk.measure()
    error = StoreError("cannot be written")
    error.__cause__ = full_error()
    assert disk.make_room(error) is not None


def test_it_is_laid_again_when_there_is_room_again(disk: Disk, tmp_path: Path, free: Callable[[int], None]) -> None:
    free(100)
    disk.measure()
    disk.make_room(full_error())
    disk.measure()
    assert reserve_of(tmp_path).exists()


def test_without_a_reserve_none_is_laid_and_one_that_lies_there_is_removed(
    disk: Disk, tmp_path: Path, free: Callable[[int], None]
) -> None:
    free(100)
    disk.measure()
    disk.reserve_bytes = 0
    disk.measure()
    assert not reserve_of(tmp_path).exists()
    disk.measure()
    assert not reserve_of(tmp_path).exists()


def test_a_reserve_that_cannot_be_laid_leaves_no_half_file(
    disk: Disk, tmp_path: Path, free: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(28, "no space left on device")

    free(100)
    monkeypatch.setattr(os, "posix_fallocate", refuse)
    assert disk.measure() == DiskSpace(100 * MEGABYTE, 8000 * MEGABYTE)
    assert not reserve_of(tmp_path).exists()


def test_a_folder_that_is_gone_measures_nothing(tmp_path: Path) -> None:
    gone = Disk(tmp_path / "nowhere" / "parchd.db", RESERVE)
    assert gone.measure() is None
    assert gone.make_room(full_error()) is None
