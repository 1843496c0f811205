"""``parchd explain``"""

import os
import shutil
import sys
from argparse import Namespace
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.cli.desk import letters_for
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.spans import SpanError, parse_time
from parchd.cli.terminal import print_safely
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.contract import ParchdError
from parchd.store.database import open_reader
from parchd.workbench.chart_text import ASCII
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_journal import explained
from parchd.workbench.explain_page import explain_page
from parchd.workbench.explain_svg import LEAST, MOST, WIDE, explain_svg
from parchd.workbench.explain_text import LEAST_COLUMNS, MOST_COLUMNS, explain_lines

PAGES, PICTURES = (".html", ".htm"), (".svg",)


def command(arguments: Namespace) -> Exit:
    """Explain what is known of one tensiometer: in the terminal, or as a page or picture."""
    path: Path | None = arguments.chart
    if path is not None and path.suffix.lower() not in (*PAGES, *PICTURES):
        raise ParchdError(f"--chart writes a page or a picture: call it {path.with_suffix('.html')} or .svg")
    case = _case(arguments, load_config(arguments.config))
    if path is None:
        letters = ASCII if arguments.ascii else letters_for(sys.stdout, os.environ)
        lines = explain_lines(case, _columns(arguments.width), letters)
        print_safely("".join(f"{line}\n" for line in lines))
        return Exit.OK
    _write(path, _drawn(path, case, arguments.width))
    print(f"{path} is written: open it in a browser")
    return Exit.OK


def _case(arguments: Namespace, loaded: Loaded) -> Explained:
    zone, now_us = ZoneInfo(loaded.pipeline.site.time_zone), SystemClock().now_us()
    start_us = parse_time(arguments.since, zone, now_us)
    end_us = now_us if arguments.until is None else parse_time(arguments.until, zone, now_us)
    if end_us <= start_us:
        raise SpanError("the span is empty: --until must be later than --since")
    known = [setup.place.tensiometer for setup in loaded.pipeline.tensiometers]
    if arguments.tensiometer not in known:
        raise ParchdError(f"no tensiometer is called {arguments.tensiometer}; there are {', '.join(known) or 'none'}")
    connection = open_reader(loaded.store.path)
    try:
        return explained(connection, loaded, arguments.tensiometer, start_us, end_us, now_us)
    finally:
        connection.close()


def _columns(width: int | None) -> int:
    """Columns to use: as asked, else those of the terminal but one, so that no line wraps."""
    asked = shutil.get_terminal_size().columns - 1 if width is None else width
    return min(MOST_COLUMNS, max(LEAST_COLUMNS, asked))


def _drawn(path: Path, case: Explained, width: int | None) -> str:
    if path.suffix.lower() in PAGES:
        return explain_page(case)
    return explain_svg(case, WIDE if width is None else min(MOST, max(LEAST, width)))


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ParchdError(f"{path}: cannot be written ({error.strerror})") from error
