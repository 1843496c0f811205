"""The loop that shows: pictures on a terminal, lines elsewhere, an end when nobody looks."""

import io
import os
import pty
import termios
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from fcntl import ioctl
from struct import pack
from typing import TextIO

from parchd.demo.news import Kind, News, NewsDesk
from parchd.demo.picture import Gauge, Picture, Sign, ZonePicture
from parchd.demo.script import START_US
from parchd.demo.stage import REDRAW_S, TABLE_S, Play, Stage
from parchd.testing import FakeClock

XTERM = {"TERM": "xterm-256color"}
INTRO = ["What this is.", "Ctrl-C ends."]
SPEED = 60.0


class Watched:
    """A journal that always says the same."""

    def look(self, now_us: int, news: tuple[News, ...] = ()) -> Picture:
        gauge = Gauge("shed-30", 30.0, 9.0, Sign.WELL, "reads well")
        zone = ZonePicture("Nursery", 18.0, 25.0, Sign.ENOUGH, "enough water", 9.0, (gauge,))
        return Picture("Quillmere Orchard", f"minute {(now_us - START_US) / 60e6:.0f}", SPEED, 60.0, (zone,), news)


def play(seconds: float) -> Play:
    """A play of so many seconds, at sixty times the speed of life, that takes no time."""
    clock = FakeClock(START_US)
    left = [seconds]

    def pause(wanted_s: float) -> bool:
        clock.advance(wanted_s)
        clock.step(wanted_s * (SPEED - 1))
        left[0] -= wanted_s
        return left[0] <= 0

    return Play(Watched(), NewsDesk(clock, lambda time_us: f"{(time_us - START_US) / 60e6:.0f}"), clock, pause)


@contextmanager
def terminal(columns: int = 80, lines: int = 24) -> Iterator[tuple[TextIO, list[bytes]]]:
    """A terminal and what was seen on it, whole once the block is left."""
    eye, hand = pty.openpty()
    ioctl(eye, termios.TIOCSWINSZ, pack("HHHH", lines, columns, 0, 0))
    seen: list[bytes] = []

    def watch() -> None:
        while True:
            try:
                seen.append(os.read(eye, 65_536))
            except OSError:
                return

    reader = threading.Thread(target=watch)
    reader.start()
    try:
        with os.fdopen(hand, "w") as out:
            yield out, seen
    finally:
        reader.join(5.0)
        os.close(eye)


def printed(seconds: float, environ: Mapping[str, str] = XTERM) -> str:
    out = io.StringIO()
    Stage(out, environ).perform(play(seconds), INTRO)
    return out.getvalue()


def test_without_a_terminal_each_moment_of_the_story_is_a_line() -> None:
    lines = printed(21.0).splitlines()
    assert "5  field    north block: the plug of gate-60 comes loose, no more values" in lines
    assert any(line.startswith("20  field    early morning") for line in lines)


def test_without_a_terminal_a_table_comes_every_fifteen_seconds() -> None:
    text = printed(2.4 * TABLE_S)
    assert text.count("Nursery") == 3
    assert "\x1b" not in text


def test_on_a_terminal_the_picture_is_drawn_with_the_introduction_among_the_news() -> None:
    with terminal() as (out, seen):
        Stage(out, XTERM).perform(play(6.0), INTRO)
    text = b"".join(seen).decode()
    assert text.startswith("\x1b[?1049h")
    assert text.endswith("\x1b[?1049l")
    assert "What this is." in text
    assert "shed-30" in text
    assert "the plug of gate-60 comes loose" in text


def test_a_terminal_that_cannot_place_text_gets_lines() -> None:
    with terminal() as (out, seen):
        Stage(out, {"TERM": "dumb"}).perform(play(6.0), INTRO)
    assert b"\x1b" not in b"".join(seen)


def test_a_pipe_that_ends_is_the_end_of_the_demo_with_the_next_line() -> None:
    read, write = os.pipe()
    os.close(read)
    shown = play(1e9)
    with os.fdopen(write, "w") as out:
        Stage(out, XTERM).perform(shown, INTRO)
    assert shown.clock.monotonic_s() - FakeClock(START_US).monotonic_s() < TABLE_S / 3 + 2 * REDRAW_S


def test_when_nobody_looks_any_more_nothing_breaks() -> None:
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "w") as out:
        stage = Stage(out, XTERM)
        stage.say(["a line"])
        shown = play(1e9)
        stage.perform(shown, INTRO)
        stage.say(["the last line"])
    assert shown.clock.now_us() == START_US


def test_the_play_tells_every_moment_once() -> None:
    shown = play(1.0)
    told_min = shown.tell_story(0.0)
    for _ in range(500):
        shown.pause(0.25)
        told_min = shown.tell_story(told_min)
    assert shown.desk.counts[Kind.FIELD] == 7
