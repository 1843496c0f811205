"""What a report says, in the terminal and on its page."""

import re
from xml.etree import ElementTree

import pytest

from parchd.clock import to_datetime
from parchd.contract import Priority
from parchd.report.figures import figures
from parchd.report.page import report_page
from parchd.report.pictures import SLIM, WIDE, picture_svg
from parchd.report.text import LEAST_COLUMNS, report_lines
from parchd.report.words import Picture, blocks
from parchd.testing.alarm_history import SPAN, ZONE, a_report, priority

SITE = "Quillmere <Orchard> & Sons"
FOUND, EMPTY = a_report(), figures([], [], SPAN, priority, known_since_us=SPAN.end_us)


def local(time_us: int) -> str:
    return to_datetime(time_us).astimezone(ZONE).strftime("%a %d %b %Y, %H:%M")


def text_of(columns: int = 100, *, plain: bool = False) -> str:
    return "\n".join(report_lines(FOUND, SITE, local, columns, plain=plain))


def bars(picture: Picture, kind: str) -> list[ElementTree.Element]:
    tree = ElementTree.fromstring(picture_svg(picture, FOUND, WIDE))
    return [one for one in tree.iter("rect") if one.get("class") == kind]


@pytest.mark.parametrize("columns", [20, LEAST_COLUMNS, 80, 100])
@pytest.mark.parametrize("plain", [False, True])
def test_no_line_of_the_terminal_is_too_wide(columns: int, plain: bool) -> None:
    lines = text_of(columns, plain=plain).splitlines()
    assert max(map(len, lines)) <= max(columns, LEAST_COLUMNS)
    assert plain is False or all(line.isascii() for line in lines)


def test_terminal_and_page_say_the_same() -> None:
    page = re.sub(r"\s+", " ", " ".join(ElementTree.fromstring(report_page(FOUND, SITE, local)[15:]).itertext()))
    text = re.sub(r"\s+", " ", text_of())
    for block in blocks(FOUND, local):
        for said in (block.title, *block.sentences):
            assert said in page
            assert said in text
    for said in ("31 alarms that asked for a response", "Half of them within 4.5 h, 90 % within 4.0 days.", "still on"):
        assert said in page
        assert said in text


def test_the_page_is_one_file_and_well_formed() -> None:
    page = report_page(FOUND, SITE, local)
    assert page.startswith("<!DOCTYPE html>\n")
    ElementTree.fromstring(page[15:])
    assert not re.search(r"(src|href)=|url\(|@import|https?://", page)
    assert "Quillmere &lt;Orchard&gt; &amp; Sons" in page


@pytest.mark.parametrize("width", [SLIM, WIDE])
@pytest.mark.parametrize("picture", Picture)
def test_every_picture_stays_within_its_frame(picture: Picture, width: float) -> None:
    tree = ElementTree.fromstring(picture_svg(picture, FOUND, width))
    _, _, wide, high = map(float, (tree.get("viewBox") or "").split())
    for shape in tree.iter("rect"):
        x, y, w, h = (float(shape.get(key) or 0.0) for key in ("x", "y", "width", "height"))
        assert x >= 0
        assert y >= 0
        assert x + w <= wide + 0.01
        assert y + h <= high + 0.01


def test_each_day_has_a_bar_for_each_priority_that_came() -> None:
    for one, rate in FOUND.by_priority.items():
        legend = 1
        assert len(bars(Picture.DAYS, one.word)) - legend == sum(count > 0 for count in rate.by_day)


def test_bars_of_priorities_are_as_long_as_their_shares() -> None:
    widths = {one: [float(bar.get("width") or 0) for bar in bars(Picture.SPLIT, one.word)][1:] for one in Priority}
    seen, guide = ({one: lengths[n] for one, lengths in widths.items()} for n in (0, 1))
    assert seen[Priority.HIGH] / sum(seen.values()) == pytest.approx(8 / 31, abs=0.002)
    assert guide[Priority.LOW] / sum(guide.values()) == pytest.approx(0.80, abs=0.002)


def test_a_span_without_alarms_is_told_without_a_fuss() -> None:
    text = "\n".join(report_lines(EMPTY, SITE, local, 80, plain=True))
    assert "No alarms that asked for a response" in text
    assert "The history of alarms knows 0.0 days of it" in text
    ElementTree.fromstring(report_page(EMPTY, SITE, local)[15:])


def test_every_published_value_stands_with_its_source_and_the_remark() -> None:
    text = re.sub(r"\s+", " ", text_of())
    for said in ("ANSI/ISA-18.2-2009", "IEC 62682:2014", "operator position in a plant", "we have not seen"):
        assert said in text
