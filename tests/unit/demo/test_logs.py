"""Nothing but the picture goes to the terminal."""

import logging
import threading
import warnings
from pathlib import Path

import pytest

from parchd.demo.logs import FILE, Connections, heard, logging_into


def fail() -> None:
    raise ZeroDivisionError("a fault of ours")


def test_log_lines_warnings_and_failed_threads_go_into_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with logging_into(tmp_path):
        logging.getLogger("parchd.x").info("a line")
        with warnings.catch_warnings():
            warnings.simplefilter("always")
            warnings.warn("a warning", stacklevel=1)
        thread = threading.Thread(target=fail, name="unlucky")
        thread.start()
        thread.join()
    text = (tmp_path / FILE).read_text()
    assert all(words in text for words in ("a line", "a warning", "thread unlucky failed", "ZeroDivisionError"))
    assert capsys.readouterr() == ("", "")


def test_afterwards_all_is_as_before(tmp_path: Path) -> None:
    root = logging.getLogger()
    before = (root.level, list(root.handlers), threading.excepthook, warnings.showwarning)
    with logging_into(tmp_path):
        pass
    assert (root.level, list(root.handlers), threading.excepthook, warnings.showwarning) == before


def test_the_boards_may_be_switched_on_when_all_sources_are_connected(tmp_path: Path) -> None:
    source = logging.getLogger("parchd.app.supervisor")
    with logging_into(tmp_path), heard(Connections(2)) as connections:
        source.info("one", extra={"event": "source.connected"})
        source.info("other", extra={"event": "source.lost"})
        assert not connections.ready.is_set()
        source.info("two", extra={"event": "source.connected"})
        assert connections.ready.is_set()
