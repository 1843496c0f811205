"""A conversation in a plain terminal: lines that are typed, sentences that are said, a picture drawn in place."""

import contextlib
import os
import select
import signal
import sys
import termios
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from types import FrameType
from typing import TextIO

from parchd.cli.terminal import somebody_is_there
from parchd.clock import Clock
from parchd.workbench.chart import Chart
from parchd.workbench.chart_text import ASCII, BRAILLE, LEAST_COLUMNS, LEAST_ROWS, Letters, chart_text

WIDTH = 80
_MOST_ROWS, _OTHER_LINES = 15, 9
_PLAIN_S, _REDRAW_S = 10.0, 0.4
_FEW_SHAPES = ("linux", "vt100", "vt220")  # the fonts of these terminals have no braille


class Desk:
    """Everything between a guided command and the person before it. Belongs to the main thread.

    Args:
        clock: for the pace of drawing.
        ascii_only: draw with plain letters, whatever the terminal can show.
    """

    def __init__(self, clock: Clock, environ: Mapping[str, str], *, ascii_only: bool = False) -> None:
        self._clock = clock
        self._typed = bytearray()
        self._closed = sys.stdin is None
        self._drawn = 0
        self._drawn_size = (0, 0)
        self._due_s = float("-inf")
        self._letters = ASCII if ascii_only else letters_for(sys.stdout, environ)
        self._in_place = sys.stdout.isatty() and environ.get("TERM", "dumb") not in ("", "dumb", "unknown")
        self.somebody = somebody_is_there()

    def say(self, text: str = "", indent: str = "") -> None:
        """Print a paragraph, wrapped; ``indent`` stands before all lines but the first."""
        lines = textwrap.wrap(text, min(WIDTH, self._columns), subsequent_indent=indent, break_on_hyphens=False)
        self.show(lines or [""])

    def show(self, lines: Sequence[str]) -> None:
        """Print lines as they are."""
        encoding = sys.stdout.encoding or "utf-8"
        text = "".join(f"{line}\n" for line in lines)
        sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
        sys.stdout.flush()

    def ask(self, question: str) -> str | None:
        """Show a question and wait for a line; ``None``: nobody answers any more (Ctrl-D)."""
        sys.stdout.flush()
        print(question, end="", file=sys.stderr, flush=True)
        answer = self.line(None)
        if answer is None:
            print(file=sys.stderr, flush=True)
        return answer

    def line(self, timeout_s: float | None) -> str | None:
        """Give the next line that was typed, stripped; ``None``: none in time (``None``: for ever), or no more."""
        while b"\n" not in self._typed and not self._closed:
            if not select.select([0], [], [], timeout_s)[0]:
                return None
            chunk = os.read(0, 4096)
            self._typed += chunk
            self._closed = not chunk
        if not self._typed:
            return None
        line, _, rest = bytes(self._typed).partition(b"\n")
        self._typed = bytearray(rest)
        return line.decode(errors="replace").strip()

    def draw(self, chart: Chart, status: str, hint: str, *, last: bool = False) -> None:
        """Draw a chart with two lines below, over the one before; elsewhere than in a terminal, print the status.

        Args:
            last: draw it now and leave it there; else it is left out when the one before is young.
        """
        now_s = self._clock.monotonic_s()
        if now_s < self._due_s and not last:
            return
        self._due_s = now_s + (_REDRAW_S if self._in_place else _PLAIN_S)
        if self._in_place or last:
            self._paint(chart_text(chart, self._columns - 1, self._rows, self._letters), status, hint)
        else:
            self.show([status])
        if last:
            self._drawn, self._due_s = 0, float("-inf")

    def update(self, text: str) -> None:
        """Show one line in place of the one before; elsewhere than in a terminal, print it now and then."""
        now_s = self._clock.monotonic_s()
        if now_s < self._due_s:
            return
        self._due_s = now_s + (_REDRAW_S if self._in_place else _PLAIN_S)
        if self._in_place:
            sys.stdout.write(f"\r\x1b[K{text[: self._columns - 1]}")
            sys.stdout.flush()
        else:
            self.show([text])

    def clear_line(self) -> None:
        """Take away what `update` showed."""
        self._due_s = float("-inf")
        if self._in_place:
            sys.stdout.write("\r\x1b[K")
            sys.stdout.flush()

    def plot(self, chart: Chart, rows: int) -> None:
        """Draw a chart once, where the text stands."""
        self.show(chart_text(chart, min(WIDTH, self._columns) - 1, rows, self._letters))

    @contextmanager
    def quiet_keys(self) -> Iterator[None]:
        """Let keys show nothing while a picture is drawn; Ctrl-C stays, and so does Enter.

        What was typed before is thrown away: an Enter too many must not end what it began.
        """
        if sys.stdin is None or not sys.stdin.isatty():
            yield
            return
        before = termios.tcgetattr(0)
        quiet = termios.tcgetattr(0)
        quiet[3] &= ~termios.ECHO
        termios.tcsetattr(0, termios.TCSAFLUSH, quiet)
        self._typed.clear()
        try:
            yield
        finally:
            with contextlib.suppress(termios.error):
                termios.tcsetattr(0, termios.TCSANOW, before)

    def _paint(self, lines: Sequence[str], status: str, hint: str) -> None:
        columns = self._columns
        shown = [line[: columns - 1] for line in (*lines, "", status, hint)]
        again = self._in_place and self._drawn and self._drawn_size == (columns, self._lines)
        up = f"\x1b[{self._drawn}A" if again else ""
        clear = "\x1b[K" if self._in_place else ""
        end = "\x1b[J" if self._in_place else ""
        encoding = sys.stdout.encoding or "utf-8"
        text = up + "".join(f"{clear}{line}\n" for line in shown) + end
        sys.stdout.write(text.encode(encoding, "replace").decode(encoding))
        sys.stdout.flush()
        self._drawn, self._drawn_size = len(shown), (columns, self._lines)

    @property
    def _columns(self) -> int:
        return max(LEAST_COLUMNS, self._size[0])

    @property
    def _lines(self) -> int:
        return self._size[1]

    @property
    def _rows(self) -> int:
        return max(LEAST_ROWS, min(_MOST_ROWS, self._lines - _OTHER_LINES))

    @property
    def _size(self) -> tuple[int, int]:
        try:
            size = os.get_terminal_size(sys.stdout.fileno())
        except (OSError, ValueError):
            return WIDTH, 24
        return size.columns or WIDTH, size.lines or 24


def letters_for(out: TextIO, environ: Mapping[str, str]) -> Letters:
    """Choose letters that the terminal can show."""
    encoding = (out.encoding or "").lower().replace("-", "")
    return BRAILLE if encoding == "utf8" and environ.get("TERM", "") not in _FEW_SHAPES else ASCII


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let SIGTERM end a command as Ctrl-C does, so that threads and the terminal are left in order."""

    def interrupt(_number: int, _frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
