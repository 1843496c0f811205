"""``parchd build-sheet``"""

import sys
from argparse import Namespace
from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.terminal import ask, print_safely, say, somebody_is_there
from parchd.clock import SystemClock, to_datetime
from parchd.contract import ParchdError
from parchd.workbench.asking import Interview
from parchd.workbench.errors import SheetError
from parchd.workbench.farm import Wanted, wanted_by
from parchd.workbench.geometry import USUAL, Pattern
from parchd.workbench.lengths import Ruler, parse_altitude_m
from parchd.workbench.limits import Site
from parchd.workbench.page import sheet_page
from parchd.workbench.parts import Closure, Need, Readout
from parchd.workbench.price_file import parse_prices
from parchd.workbench.prices import Prices, prices_toml
from parchd.workbench.sheet import KERF_MM, STOCK_MM, Order, draw_up
from parchd.workbench.text import sheet_text

_SAID_BY_CONFIG = ("depth", "count", "each", "altitude", "site")


def command(arguments: Namespace) -> Exit:
    """Print a build sheet, and write it as a page; ask for what is missing if somebody sits at the terminal."""
    try:
        _check_output(arguments.output)
        ruler = Ruler(arguments.unit)
        pattern = _pattern(arguments, ruler)
        wanted, zone = _from_config(arguments, pattern, ruler) if arguments.config else (_typed(arguments, ruler), None)
        order, made_on = _order(arguments, wanted, pattern, ruler), _today(zone)
        needs = draw_up(order, made_on).needs
        sheet = draw_up(order, made_on, _prices(arguments, needs), wanted.notes)
    except SheetError as error:
        print(f"parchd: {error}", file=sys.stderr)
        return Exit.USAGE
    print_safely(sheet_text(sheet))
    if arguments.output is not None:
        _write(arguments.output, sheet_page(sheet))
        say(f"{arguments.output} is written: open it in a browser, and print it from there")
    return Exit.OK


def _from_config(arguments: Namespace, pattern: Pattern, ruler: Ruler) -> tuple[Wanted, ZoneInfo]:
    if given := [f"--{name}" for name in _SAID_BY_CONFIG if getattr(arguments, name)]:
        raise SheetError(f"--config brings depths, numbers, altitude and site: leave out {', '.join(given)}")
    loaded = load_config(arguments.config)
    return wanted_by(loaded, pattern, ruler), ZoneInfo(loaded.pipeline.site.time_zone)


def _typed(arguments: Namespace, ruler: Ruler) -> Wanted:
    """What the arguments say; what they do not say is asked for."""
    interview = Interview(ask, say) if somebody_is_there() else None
    depths, each = [ruler.parse_mm(text) for text in arguments.depth], arguments.each
    if not depths:
        if interview is None:
            raise SheetError("no depth was given: --depth 30 --depth 60, or --config FILE")
        depths = interview.depths_mm(ruler)
        each = interview.each() if each is arguments.count is None else each
    counts = _counts(depths, arguments.count, each)
    if arguments.altitude is not None:
        altitude_m = parse_altitude_m(arguments.altitude)
    elif interview is not None:
        altitude_m = interview.altitude_m()
    else:
        raise SheetError(
            "the altitude limits how dry a tensiometer can read: give it with --altitude, metres or 1400ft"
        )
    return Wanted(counts, Site(arguments.site or "", altitude_m))


def _counts(depths: Iterable[float], count: int | None, each: int | None) -> dict[float, int]:
    times = Counter(depths)
    if count is None:
        return {depth: number * (1 if each is None else each) for depth, number in times.items()}
    share, rest = divmod(count, times.total())
    if rest:
        raise SheetError(
            f"{count} tensiometers cannot be shared evenly among {times.total()} depths: --each 3 builds 3 of each, "
            "and without both each --depth builds one (--depth 30 --depth 30 --depth 60)"
        )
    return {depth: number * share for depth, number in times.items()}


def _pattern(arguments: Namespace, ruler: Ruler) -> Pattern:
    usual = USUAL[ruler]
    return Pattern(
        above_mm=_length(arguments.above, ruler, usual.above_mm),
        top_mm=_length(arguments.top_piece, ruler, usual.top_mm),
        cup_mm=_length(arguments.cup_length, ruler, usual.cup_mm),
    )


def _order(arguments: Namespace, wanted: Wanted, pattern: Pattern, ruler: Ruler) -> Order:
    return Order(
        depths_mm=wanted.depths_mm,
        site=wanted.site,
        ruler=ruler,
        pattern=pattern,
        readout=Readout.GAUGE if arguments.gauge else Readout.TRANSDUCER,
        closure=Closure.STOPPER if arguments.stopper else Closure.CAP,
        stock_mm=_length(arguments.stock_length, ruler, STOCK_MM[ruler]),
        kerf_mm=_length(arguments.kerf, ruler, KERF_MM[ruler]),
        spares_percent=arguments.spares,
    )


def _length(text: str | None, ruler: Ruler, usual_mm: float) -> float:
    return usual_mm if text is None else ruler.parse_mm(text)


def _prices(arguments: Namespace, needs: Iterable[Need]) -> Prices | None:
    """Prices of the file, of the terminal, or none."""
    if arguments.prices is not None:
        return parse_prices(_read(arguments.prices), str(arguments.prices))
    if arguments.no_prices or not somebody_is_there():
        return None
    interview = Interview(ask, say)
    prices = interview.prices(needs)
    while prices and (name := interview.file_name()):
        if _kept(Path(name).expanduser(), prices):
            break
    return prices


def _kept(path: Path, prices: Prices) -> bool:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(prices_toml(prices))
    except OSError as error:
        say(f"  {path}: not written ({error.strerror}); another name?")
        return False
    return True


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise ParchdError(f"{path}: cannot be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise ParchdError(f"{path}: cannot be read (it is not UTF-8 text)") from error


def _check_output(path: Path | None) -> None:
    if path is not None and path.suffix.lower() not in (".html", ".htm"):
        raise SheetError(f"--output writes a page for a browser: call it {path.with_suffix('.html')}, not {path}")


def _write(path: Path, page: str) -> None:
    try:
        path.write_text(page, encoding="utf-8")
    except OSError as error:
        raise ParchdError(f"{path}: cannot be written ({error.strerror})") from error


def _today(zone: ZoneInfo | None) -> date:
    now: datetime = to_datetime(SystemClock().now_us())
    return now.astimezone(zone).date()
