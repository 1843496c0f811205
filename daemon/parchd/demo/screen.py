"""A terminal, taken over for a while and given back as it was."""

import contextlib
import os
import sys
import termios
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TextIO

from parchd.demo.drawing import LEAST_COLUMNS, LEAST_LINES

_ENTER = "\x1b[?1049h\x1b[?25l\x1b[?7l\x1b[2J"
_LEAVE = "\x1b[0m\x1b[?7h\x1b[?25h\x1b[?1049l"


class Screen:
    """Draws lines in place; only those that changed are sent, which is kind to slow connections."""

    def __init__(self, out: TextIO) -> None:
        self._out = out
        self._shown: list[str] = []
        self._size = (0, 0)

    @property
    def size(self) -> tuple[int, int]:
        """Columns and lines, now."""
        found = os.get_terminal_size(self._out.fileno())
        return found.columns, found.lines

    def show(self, lines: Sequence[str]) -> None:
        """Make the terminal show these lines."""
        if (size := self.size) != self._size:
            self._size, self._shown = size, []
            self._out.write("\x1b[2J")
        longest = max(len(lines), len(self._shown))
        before = [*self._shown, *[""] * (longest - len(self._shown))]
        after = [*lines, *[""] * (longest - len(lines))]
        changed = [(number, line) for number, line in enumerate(after) if line != before[number]]
        # Erased first: at the end of a full line the cursor still stands on its last cell.
        self._out.write("".join(f"\x1b[{number + 1};1H\x1b[K{line}" for number, line in changed))
        self._out.flush()
        self._shown = list(lines)


def can_draw(out: TextIO, environ: Mapping[str, str]) -> bool:
    """Whether a picture can be drawn: a terminal that is large enough and understands where to put it."""
    if not out.isatty() or environ.get("TERM", "dumb") in ("", "dumb", "unknown"):
        return False
    size = os.get_terminal_size(out.fileno())
    return size.columns >= LEAST_COLUMNS and size.lines >= LEAST_LINES


@contextmanager
def taken_over(out: TextIO) -> Iterator[Screen]:
    """Show another page of the terminal without a cursor or echo; give all back at the end, whatever happens."""
    with _quiet_keys():
        out.write(_ENTER)
        out.flush()
        try:
            yield Screen(out)
        finally:
            with contextlib.suppress(OSError):  # the window may be closed already
                out.write(_LEAVE)
                out.flush()


@contextmanager
def _quiet_keys() -> Iterator[None]:
    """Let keys show nothing and stop nothing but the demo itself: Ctrl-C stays, Ctrl-Z and Ctrl-S rest."""
    if sys.stdin is None or not sys.stdin.isatty():
        yield
        return
    keys = sys.stdin.fileno()
    before = termios.tcgetattr(keys)
    quiet = termios.tcgetattr(keys)
    quiet[0] &= ~termios.IXON
    quiet[3] &= ~(termios.ECHO | termios.ICANON)
    quiet[6][termios.VSUSP] = b"\0"
    termios.tcsetattr(keys, termios.TCSANOW, quiet)
    try:
        yield
    finally:
        with contextlib.suppress(termios.error):
            termios.tcsetattr(keys, termios.TCSAFLUSH, before)
