"""A terminal that is drawn on: a pseudo-terminal without a program behind it."""

import os
import pty
import termios
from collections.abc import Iterator
from dataclasses import dataclass
from fcntl import ioctl
from struct import pack
from typing import TextIO

import pytest

from parchd.demo.screen import Screen, can_draw, taken_over

XTERM = {"TERM": "xterm-256color"}


@dataclass
class Terminal:
    """Both ends of a pseudo-terminal: what a program writes to, and what the person sees."""

    out: TextIO
    eye: int

    def resize(self, columns: int, lines: int) -> None:
        ioctl(self.eye, termios.TIOCSWINSZ, pack("HHHH", lines, columns, 0, 0))

    def seen(self) -> str:
        return os.read(self.eye, 65_536).decode()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    eye, hand = pty.openpty()
    with os.fdopen(hand, "w") as out:
        terminal = Terminal(out, eye)
        terminal.resize(80, 24)
        yield terminal
    os.close(eye)


def test_only_lines_that_changed_are_sent(terminal: Terminal) -> None:
    screen = Screen(terminal.out)
    screen.show(["one", "two"])
    terminal.seen()
    screen.show(["one", "three"])
    assert terminal.seen() == "\x1b[2;1H\x1b[Kthree"


def test_a_shorter_picture_leaves_nothing_of_the_longer_one(terminal: Terminal) -> None:
    screen = Screen(terminal.out)
    screen.show(["one", "two"])
    terminal.seen()
    screen.show(["one"])
    assert terminal.seen() == "\x1b[2;1H\x1b[K"


def test_after_a_change_of_size_all_is_drawn_anew(terminal: Terminal) -> None:
    screen = Screen(terminal.out)
    screen.show(["one", "two"])
    terminal.seen()
    terminal.resize(100, 30)
    screen.show(["one", "two"])
    assert terminal.seen() == "\x1b[2J\x1b[1;1H\x1b[Kone\x1b[2;1H\x1b[Ktwo"


def test_a_terminal_is_given_back_even_after_an_error(terminal: Terminal) -> None:
    with pytest.raises(ZeroDivisionError), taken_over(terminal.out):
        raise ZeroDivisionError
    seen = terminal.seen()
    assert seen.startswith("\x1b[?1049h")
    assert seen.endswith("\x1b[?7h\x1b[?25h\x1b[?1049l")


def test_a_picture_needs_a_terminal_of_80_by_24_that_can_place_text(terminal: Terminal) -> None:
    assert can_draw(terminal.out, XTERM)
    assert not can_draw(terminal.out, {"TERM": "dumb"})
    assert not can_draw(terminal.out, {})
    terminal.resize(79, 24)
    assert not can_draw(terminal.out, XTERM)
    terminal.resize(80, 23)
    assert not can_draw(terminal.out, XTERM)


def test_a_pipe_is_no_place_for_a_picture() -> None:
    read, write = os.pipe()
    with os.fdopen(write, "w") as out:
        assert not can_draw(out, XTERM)
    os.close(read)
