"""What counts once is remembered as long as it could come again."""

import sqlite3
from pathlib import Path

import pytest

from parchd.store.answered import Answered, answered, forget_answers, link_key, note_answer, set_link_key
from parchd.store.database import open_writer


@pytest.fixture
def connection(tmp_path: Path) -> sqlite3.Connection:
    return open_writer(tmp_path / "parchd.db")


def test_what_was_answered_is_found_again_under_its_name(connection: sqlite3.Connection) -> None:
    first = Answered(5, '{"ask":"acknowledge"}', '{"state":"done"}')
    note_answer(connection, "mqtt/field/7", first, 100)
    assert answered(connection, "mqtt/field/7") == first
    assert answered(connection, "mqtt/other/7") is None
    connection.close()


def test_it_is_forgotten_after_its_time_and_not_before(connection: sqlite3.Connection) -> None:
    for name, expires_us in (("a", 99), ("b", 100), ("c", 101)):
        note_answer(connection, name, Answered(0, "", ""), expires_us)
    forget_answers(connection, 100)
    assert [answered(connection, name) is not None for name in "abc"] == [False, True, True]
    connection.close()


def test_a_key_is_kept_and_changed(connection: sqlite3.Connection) -> None:
    assert link_key(connection) is None
    for key in (bytes(range(32)), bytes(32)):
        set_link_key(connection, key)
        assert link_key(connection) == key
    connection.close()
