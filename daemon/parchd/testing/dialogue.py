"""A command in a pseudo-terminal that asks questions, and who answers them."""

import os
import pty
import select
import subprocess
import sys
import termios
from collections.abc import Mapping
from fcntl import ioctl
from pathlib import Path
from struct import pack
from types import TracebackType
from typing import Self

from parchd.clock import SystemClock

_SLICE_S = 0.05
_PATIENCE_S = 20.0

# A session leader takes its standard input for its terminal; then Ctrl-C becomes a SIGINT, also where a shell that runs
# tests in the background has let it be ignored.
_IN_TERMINAL = """\
import fcntl, signal, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
signal.signal(signal.SIGINT, signal.default_int_handler)
from parchd.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


class Dialogue:
    """``parchd WORDS`` in a terminal of its own, 80 columns wide. Leaving the ``with`` block kills it if it still runs.

    Args:
        words: arguments of the command.
        folder: where it is started.
        environ: added to our environment.
        stdout: standard output goes into this file, not to the terminal.
    """

    def __init__(
        self, *words: object, folder: Path, environ: Mapping[str, str] | None = None, stdout: Path | None = None
    ) -> None:
        self.seen = ""
        self._read_to = 0
        self._eye, hand = pty.openpty()
        ioctl(hand, termios.TIOCSWINSZ, pack("HHHH", 24, 80, 0, 0))
        out = hand if stdout is None else os.open(stdout, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own command
                (sys.executable, "-c", _IN_TERMINAL, *map(str, words)),
                stdin=hand, stdout=out, stderr=hand, cwd=folder, start_new_session=True,
                env={**os.environ, "TERM": "xterm", **(environ or {})},
            )  # fmt: skip
        finally:
            for end in {hand, out}:
                os.close(end)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self._process.wait()
        os.close(self._eye)

    def expect(self, text: str) -> str:
        """Wait until something is shown, after what was expected before; give all that came up to its end.

        Raises:
            AssertionError: it does not come; with what came instead.
        """
        clock = SystemClock()
        deadline_s = clock.monotonic_s() + _PATIENCE_S
        while (at := self.seen.find(text, self._read_to)) < 0:
            alive = self._read_some()
            if not alive or clock.monotonic_s() > deadline_s:
                raise AssertionError(f"{text!r} was not shown, but:\n{self.seen[self._read_to :]}")
        begin, self._read_to = self._read_to, at + len(text)
        return self.seen[begin : self._read_to]

    def answer(self, question: str, answer: str) -> None:
        """Wait for a question and answer it with a line."""
        self.expect(question)
        self.send(f"{answer}\n")

    def send(self, keys: str) -> None:
        """Press keys: ``\\x04`` is Ctrl-D, ``\\x03`` Ctrl-C."""
        os.write(self._eye, keys.encode())

    def terminate(self) -> None:
        """Ask the command to end, as a shutdown does (SIGTERM)."""
        self._process.terminate()

    def ended(self) -> int:
        """Wait for the end; give the exit code. `seen` has everything then."""
        while self._read_some():
            pass
        return self._process.wait(_PATIENCE_S)

    def _read_some(self) -> bool:
        """Read what there is; false when nothing will come any more."""
        if not select.select([self._eye], [], [], _SLICE_S)[0]:
            return self._process.poll() is None
        try:
            self.seen += os.read(self._eye, 65_536).decode(errors="replace").replace("\r\n", "\n")
        except OSError:  # nobody holds the other end any more
            return False
        return True
