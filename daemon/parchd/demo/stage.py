"""The part that people see: a live picture on a terminal, plain lines anywhere else."""

import logging
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol, TextIO

from parchd.clock import Clock
from parchd.demo.drawing import LEAST_COLUMNS, draw, plain_line, zone_lines
from parchd.demo.news import Kind, News, NewsDesk
from parchd.demo.picture import Picture
from parchd.demo.screen import can_draw, taken_over
from parchd.demo.script import minutes_since_start, told
from parchd.demo.style import Style, letters_for, style_for

logger = logging.getLogger(__name__)

REDRAW_S = 0.25
TABLE_S = 15.0


class Look(Protocol):
    """Draws up the picture of a moment; `parchd.demo.watch.Watch` is one."""

    def look(self, now_us: int, news: tuple[News, ...] = ()) -> Picture: ...


@dataclass(frozen=True, slots=True)
class Play:
    """What is shown, and until when.

    Args:
        watch: reads the daemon's journal.
        desk: the news; the script's moments are added to it.
        clock: the farm's.
        pause: waits so many seconds, at most, and tells whether the demo is over.
    """

    watch: Look
    desk: NewsDesk
    clock: Clock
    pause: Callable[[float], bool]

    def tell_story(self, told_min: float) -> float:
        """Add the moments of the script that have come since ``told_min``; return until when they are told now."""
        now_min = minutes_since_start(self.clock.now_us())
        for moment in told(told_min, now_min):
            self.desk.tell(Kind.FIELD, moment.text)
        return now_min


_HEIGHTS = {**{0x2580 + height: str(height) for height in range(1, 9)}, 0x00B7: "-"}


def in_letters_of(out: TextIO, line: str) -> str:
    """Write a line with the letters that an output has: heights of bars as digits, others as question marks.

    >>> import io
    >>> in_letters_of(io.TextIOWrapper(io.BytesIO(), "ascii"), "8 to 41 kPa: \u2581\u2584\u00b7\u2588 \u00fc")
    '8 to 41 kPa: 14-8 ?'
    """
    encoding = out.encoding or "utf-8"
    try:
        line.encode(encoding)
    except UnicodeEncodeError:
        return line.translate(_HEIGHTS).encode(encoding, "replace").decode(encoding)
    return line


class Stage:
    """Chooses between picture and lines once, by what ``out`` is."""

    def __init__(self, out: TextIO, environ: Mapping[str, str]) -> None:
        self._out = out
        self._seen = True
        self._live = can_draw(out, environ)
        self._style = style_for(out, environ) if self._live else Style(letters_for(out, environ))

    def say(self, lines: Sequence[str]) -> None:
        """Print lines, as far as ``out`` has letters for them."""
        with self._until_nobody_looks():
            print(*(in_letters_of(self._out, line) for line in lines), sep="\n", file=self._out, flush=True)

    def perform(self, play: Play, intro: Sequence[str]) -> None:
        """Show the play until it is over, or until nobody can see it any more."""
        if self._live:
            for line in intro:
                play.desk.tell(Kind.INTRO, line)
            with self._until_nobody_looks():
                self._paint(play)
        else:
            self._print(play)

    @contextmanager
    def _until_nobody_looks(self) -> Iterator[None]:
        """Take a window that is closed, or a pipe that ends, for the end of the demo."""
        try:
            yield
        except OSError as error:
            logger.info("nobody looks any more: %s", error, extra={"event": "demo.unseen"})
            self._seen = False
            nowhere = os.open(os.devnull, os.O_WRONLY)  # Python writes what is left when it ends
            os.dup2(nowhere, self._out.fileno())
            os.close(nowhere)

    def _paint(self, play: Play) -> None:
        told_min, over = 0.0, False
        with taken_over(self._out) as screen:
            while not over:
                told_min = play.tell_story(told_min)
                columns, lines = screen.size
                picture = play.watch.look(play.clock.now_us(), play.desk.last(lines))
                screen.show(draw(picture, columns, lines, self._style))
                over = play.pause(REDRAW_S)

    def _print(self, play: Play) -> None:
        told_min, printed, over = 0.0, 0, False
        table_s = play.clock.monotonic_s() + TABLE_S / 3
        while self._seen and not over:
            told_min = play.tell_story(told_min)
            news = play.desk.after(printed)
            printed += len(news)
            if news:
                self.say([plain_line(one) for one in news])
            if play.clock.monotonic_s() >= table_s:
                table_s += TABLE_S
                self._say_table(play)
            over = play.pause(REDRAW_S)

    def _say_table(self, play: Play) -> None:
        picture = play.watch.look(play.clock.now_us())
        self.say(["", picture.time, *zone_lines(picture, LEAST_COLUMNS, self._style), ""])
