"""The pty line that tests and the demo speak through."""

import os
from pathlib import Path

import pytest

from parchd.testing.line import PtyLine


def test_a_line_carries_bytes_as_they_are(tmp_path: Path) -> None:
    with PtyLine(tmp_path / "device") as line:
        end = os.open(line.path, os.O_RDWR | os.O_NOCTTY)
        sent = bytes(range(256))
        assert line.write(sent) == 256
        assert os.read(end, 1000) == sent
        os.close(end)


def test_what_finds_no_reader_is_lost_in_the_end() -> None:
    with PtyLine() as line:
        taken = line.write(b"x" * 1_000_000, timeout_s=0.05)
        assert 0 < taken < 1_000_000


def test_an_unplugged_line_takes_nothing_and_its_path_is_gone() -> None:
    with PtyLine() as line:
        line.unplug()
        line.unplug()
        assert (line.plugged, Path(line.path).exists(), line.write(b"x")) == (False, False, 0)
        line.replug()
        assert (line.plugged, Path(line.path).exists(), line.write(b"x")) == (True, True, 1)


def test_whoever_has_it_open_hears_that_it_is_gone() -> None:
    with PtyLine() as line:
        end = os.open(line.path, os.O_RDWR | os.O_NOCTTY)
        line.unplug()
        assert os.read(end, 1) == b""
        with pytest.raises(OSError, match="Input/output error"):
            os.write(end, b"x")
        os.close(end)


def open_files() -> set[str]:
    return {entry.name for entry in Path("/proc/self/fd").iterdir()}


def test_nothing_is_left_behind(tmp_path: Path) -> None:
    before = open_files()
    with PtyLine(tmp_path / "device") as line, PtyLine() as other:
        folder = Path(other.path).parent
        assert line.plugged
    assert not list(tmp_path.iterdir())
    assert not folder.exists()
    assert open_files() == before
