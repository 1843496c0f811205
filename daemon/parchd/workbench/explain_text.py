"""What is said of a tensiometer, for a terminal: a chart with strips below it, then the findings in words."""

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from zoneinfo import ZoneInfo

from parchd.contract import Flag
from parchd.diagnosis.kinds import EventKind
from parchd.diagnosis.words import EVENT_WORDS
from parchd.workbench.chart import Chart, Level, Look, Series, Span
from parchd.workbench.chart_text import Letters, chart_text
from parchd.workbench.explain_case import Explained, middle_us, pieces
from parchd.workbench.explain_frame import held
from parchd.workbench.explain_marks import service_times
from parchd.workbench.explain_state import Pair
from parchd.workbench.explain_ticks import time_ticks
from parchd.workbench.explain_words import FindingBlock, cut, report

LEAST_COLUMNS, MOST_COLUMNS = 60, 200
_WORDS_COLUMNS = 100
_ROWS, _COLUMNS_A_TICK = 16, 12
_MOST_HAPPENINGS, _MOST_OVER = 15, 8
_SIGNS = {Flag.PASS: "-", Flag.SUSPECT: "?", Flag.FAIL: "X"}
_EVENT_SIGNS = {
    EventKind.WETTING: "v",
    EventKind.SERVICE: "S",
    EventKind.SATURATION: "=",
    EventKind.POSITIVE_PRESSURE: "~",
}
_LASTING = (EventKind.SATURATION, EventKind.POSITIVE_PRESSURE)
_SIGN_WORDS = {"X": "cannot be believed", "?": "doubted", "-": "worth knowing"}


def explain_lines(case: Explained, columns: int, letters: Letters) -> Iterator[str]:
    """All of it, line by line, none wider than ``columns``."""
    said, width = report(case), min(columns, _WORDS_COLUMNS)
    yield from _wrapped(f"{said.heading}: {said.span}", width)
    yield from _wrapped("; ".join(f"{label} {value}" for label, value in said.portrait), width)
    yield ""
    yield from _wrapped(said.state, width)
    yield ""
    yield from chart_lines(case, columns, letters)
    for title, blocks in (("Findings", said.findings), ("Dismissed findings", said.dismissed)):
        if blocks or title == "Findings":
            yield from ("", title)
            yield from _blocks(blocks, width)
    yield from ("", "What happened")
    left_out = len(said.happenings) - _MOST_HAPPENINGS
    if left_out > 0:
        hint = "a shorter span or a page (--chart FILE.html) shows them"
        yield from _wrapped(f"{left_out} more before that; {hint}", width, "  ")
    for one in said.happenings[-_MOST_HAPPENINGS:]:
        facts = "; ".join(f"{label[:1].lower()}{label[1:]} {value}" for label, value in one.facts)
        yield from _wrapped(f"{one.when}  {one.what}{': ' if facts else ''}{facts}", width, "  ", "    ")
    if not said.happenings:
        yield "  nothing was seen or written down within this span"
    yield from ("", "Its readings")
    yield from _pairs(said.flags or (("none", "within this span"),), width, "  ")
    if said.star:
        yield from ("", said.star)


def chart_lines(case: Explained, columns: int, letters: Letters) -> Iterator[str]:
    """The chart, and below it a strip for findings and one for what happened, in the columns of the chart."""
    lines = chart_text(_chart(case, columns), columns, _ROWS, letters)
    floor = next(number for number, line in enumerate(lines) if line.lstrip().startswith(letters.corner))
    gutter = lines[floor].index(letters.corner) + 1
    yield from lines[: floor + 1]
    strips = [_findings_strip(case, columns - gutter), _events_strip(case, columns - gutter)]
    for strip in strips:
        if strip.strip():
            yield " " * gutter + strip.rstrip()
    yield from lines[floor + 1 :]
    signs = [f"{sign} {words}" for sign, words in _SIGN_WORDS.items() if sign in strips[0]]
    signs += [f"{sign} {EVENT_WORDS[kind].title}" for kind, sign in _EVENT_SIGNS.items() if sign in strips[1]]
    if signs:
        joined = "  ".join(sign.replace(" ", "\N{NO-BREAK SPACE}") for sign in signs)
        yield from (line.replace("\N{NO-BREAK SPACE}", " ") for line in _wrapped(joined, columns, " " * gutter))


def _chart(case: Explained, columns: int) -> Chart:
    one = case.portrait
    kpa = held(case)
    levels = [Level(kpa_, f"{words} {kpa_:.0f}") for words, kpa_ in (*one.limits, ("usable limit", one.limit_kpa))]
    marks = time_ticks(case.start_us, case.end_us, ZoneInfo(one.time_zone), max(2, columns // _COLUMNS_A_TICK))
    return Chart(
        title=f"{one.name}, {one.depth_m * 100:.0f} cm",
        x_title="",
        y_title="tension at the cup, kPa",
        x=Span(float(case.start_us), float(case.end_us)),
        y=kpa,
        series=tuple(_series(case, kpa)),
        levels=tuple(level for level in levels if level.y <= kpa.high),
        x_marks=tuple((float(tick.time_us), tick.label) for tick in marks),
    )


def _series(case: Explained, kpa: Span) -> Iterator[Series]:
    """Its own curve only: with dots alone, more could not be told apart. Where it swings, from low to high."""
    for piece in pieces(case.own, case.bucket_us):
        points = []
        for number in piece:
            bucket, x = case.own.buckets[number], float(middle_us(case, number))
            values = (bucket.mean,) if bucket.high - bucket.low < kpa.width / 40 else (bucket.low, bucket.high)
            points += [(x, min(kpa.high, max(kpa.low, value))) for value in values]
        yield Series(Look.LINE, tuple(points))


def _findings_strip(case: Explained, width: int) -> str:
    """One letter a column; the gravest finding wins."""
    cells = [" "] * width
    shown = [told for told in case.findings_within() if not told.is_dismissed]
    for sign in "-?X":
        for told in shown:
            if _SIGNS[told.flag] == sign:
                _fill(cells, case, told.finding.start_us, told.finding.ended_us, sign)
    return "".join(cells)


def _events_strip(case: Explained, width: int) -> str:
    cells = [" "] * width
    for event in sorted(case.events, key=lambda event: event.kind not in _LASTING):
        if event.kind in _LASTING:
            _fill(cells, case, event.start_us, event.end_us, _EVENT_SIGNS[event.kind])
        elif event.kind is EventKind.WETTING:
            _fill(cells, case, event.start_us, event.start_us, "v")
    for time_us in service_times(case):
        _fill(cells, case, time_us, time_us, "S")
    return "".join(cells)


def _fill(cells: list[str], case: Explained, start_us: int, end_us: int | None, sign: str) -> None:
    last = len(cells) - 1
    first, end = (
        round(min(1.0, max(0.0, (us - case.start_us) / (case.end_us - case.start_us))) * last)
        for us in (start_us, case.end_us if end_us is None else end_us)
    )
    cells[first : end + 1] = sign * (end + 1 - first)


def _blocks(blocks: Sequence[FindingBlock], width: int) -> Iterator[str]:
    told: set[str] = set()
    shown, left_out = cut(blocks, _MOST_OVER)
    for block in shown:
        yield ""
        yield f"  {block.title} [{block.word}]"
        yield from _pairs(block.facts, width, "    ")
        if block.title not in told:
            yield from _wrapped(block.meaning, width, "    ")
        told.add(block.title)
        if block.doing:
            yield "    What to do:"
        for number, step in enumerate(block.doing, 1):
            yield from _wrapped(f"{number}. {step}", width, "    ", "       ")
        for label, text in block.notes:
            yield from _wrapped(f"{label}: {text}", width, "    ")
    if left_out:
        yield from ("", f"  {left_out} more that were over before are left out")
    if not blocks:
        yield "  none within this span"


def _pairs(pairs: Iterable[Pair], width: int, indent: str) -> Iterator[str]:
    pairs = list(pairs)
    wide = min(30, max((len(label) for label, _ in pairs), default=0))
    for label, value in pairs:
        yield from _wrapped(f"{label:<{wide}}  {value}", width, indent, indent + " " * (wide + 2))


def _wrapped(text: str, width: int, indent: str = "", later: str | None = None) -> list[str]:
    """Wrap a paragraph; words that have a hyphen stay whole, for they may be names or options."""
    return textwrap.wrap(
        text, width, initial_indent=indent, subsequent_indent=indent if later is None else later,
        break_on_hyphens=False, replace_whitespace=False,
    )  # fmt: skip
