"""The screen, drawn from a picture that is made by hand."""

import re
from dataclasses import replace

import pytest

from parchd.demo.drawing import draw, news_line, zone_lines
from parchd.demo.news import Kind, News
from parchd.demo.picture import Gauge, Picture, Point, Sign, ZonePicture
from parchd.demo.style import ASCII, UNICODE, Style

RISING = tuple(Point(float(age), 30.0 + (60 - age) / 6) for age in range(59, -1, -1))
FALLS_SILENT = (*RISING[10:30], *(Point(float(age), None) for age in range(29, -1, -1)))
NEWS = (
    News("", Kind.INTRO, "A minute on the farm takes a second."),
    News("05:14", Kind.MAIL, "Creek terrace: irrigate now (41 kPa)", "to grower@quillmere.example"),
    News("05:14", Kind.WEBHOOK, "alarm.raised irrigate-now zone/creek-terrace", "signature is right"),
    News("05:20", Kind.FIELD, "creek terrace: the grower opens the valve"),
)

AT_80 = """\
Quillmere Orchard   Tue 12 May 2026, 05:20             60 times faster than life
tensiometer  depth   tension  0 wet    dry 60 kPa  last hour     state
North block                             35   50    ? unknown, decided from 05:00
  ridge-30   30 cm  24.9 kPa  ███████▉···┊···┃···  ▁▃▄▅          ✓ reads well
  gate-60    60 cm  no value  ···········┊···┃···    ▁▃▄▅······  … silent
Creek terrace                          33 40       ● irrigate now 41 kPa
  bridge-30  30 cm  40.9 kPa  ██████████┊█┃······  ▁▂▂▃▄▄▅▆▆▇██  ✓ reads well
  bridge-60  60 cm  -2.4 kPa  ··········┊·┃······                ✓ reads well
Nursery                           18 25            ◐ plan an irrigation 19 kPa
  shed-30    30 cm  19.2 kPa  █████┊·┃···········                ✓ reads well
  shed-60    60 cm  no value  ·····┊·┃···········                ✗ open circuit
── what happened ───────────────────────────────────────────────────────────────
A minute on the farm takes a second.
05:14  mail     Creek terrace: irrigate now (41 kPa)                   to grower
05:14  webhook  alarm.raised irrigate-now zone/creek-terrace  signature is right
05:20  field    creek terrace: the grower opens the valve







limits: ┊ plan  ┃ irrigate now    zones: ○ enough ◐ plan ● now       Ctrl-C ends
"""

AT_120 = """\
Quillmere Orchard   Tue 12 May 2026, 05:20                                                     60 times faster than life

tensiometer  depth   tension  0 wet                              dry 60 kPa  last hour                   state
North block                                            35          50        ? unknown, decided from 05:00
  ridge-30   30 cm  24.9 kPa  ██████████████████▋·······┊··········┃·······  ▁▁▂▂▃▃▄▄▅                   ✓ reads well
  gate-60    60 cm  no value  ··························┊··········┃·······      ▁▁▂▂▃▃▄▄▅·············  … silent

Creek terrace                                        33     40               ● irrigate now 41 kPa
  bridge-30  30 cm  40.9 kPa  ████████████████████████┊█████┃··············  ▁▁▁▂▂▂▃▃▃▃▄▄▄▅▅▅▆▆▆▇▇▇████  ✓ reads well
  bridge-60  60 cm  -2.4 kPa  ························┊·····┃··············                              ✓ reads well

Nursery                                   18    25                           ◐ plan an irrigation 19 kPa
  shed-30    30 cm  19.2 kPa  █████████████┊▍···┃··························                              ✓ reads well
  shed-60    60 cm  no value  ·············┊····┃··························                              ✗ open circuit
── what happened ───────────────────────────────────────────────────────────────────────────────────────────────────────
A minute on the farm takes a second.
05:14  mail     Creek terrace: irrigate now (41 kPa)                                         to grower@quillmere.example
05:14  webhook  alarm.raised irrigate-now zone/creek-terrace                                          signature is right
05:20  field    creek terrace: the grower opens the valve










limits: ┊ plan  ┃ irrigate now    zones: ○ enough ◐ plan ● now                                               Ctrl-C ends
"""

IN_ASCII = """\
tensiometer  depth   tension  0 wet    dry 60 kPa  last hour     state
North block                             35   50    ? unknown, decided from 05:00
  ridge-30   30 cm  24.9 kPa  #######....:...|...  _..-          = reads well
  gate-60    60 cm  no value  ...........:...|...    _..-        ~ silent
Creek terrace                          33 40       ! irrigate now 41 kPa
  bridge-30  30 cm  40.9 kPa  ##########:#|......  __..---==^^^  = reads well
  bridge-60  60 cm  -2.4 kPa  ..........:.|......                = reads well
Nursery                           18 25            + plan an irrigation 19 kPa
  shed-30    30 cm  19.2 kPa  #####:.|...........                = reads well
  shed-60    60 cm  no value  .....:.|...........                x open circuit
"""

SMALL = """\
Quillmere Orchard Tue 12 May 2026, 05:20
? North block: unknown, decided from 05:…
● Creek terrace: irrigate now
◐ Nursery: plan an irrigation
bars need 80 x 24; Ctrl-C ends
05:14 alarm.raised irrigate-now zone/cre…
05:20 creek terrace: the grower opens th…
"""


def gauge(
    name: str,
    tension_kpa: float | None,
    sign: Sign = Sign.WELL,
    words: str = "reads well",
    history: tuple[Point, ...] = (),
) -> Gauge:
    return Gauge(name, float(name[-2:]), tension_kpa, sign, words, history)


def picture() -> Picture:
    ridge, gate = (
        gauge("ridge-30", 24.9, history=RISING[:20]),
        gauge("gate-60", None, Sign.SILENT, "silent", FALLS_SILENT),
    )
    bridges = (gauge("bridge-30", 40.9, history=RISING), gauge("bridge-60", -2.4))
    sheds = (gauge("shed-30", 19.2), gauge("shed-60", None, Sign.FAULT, "open circuit"))
    zones = (
        ZonePicture("North block", 35.0, 50.0, Sign.UNKNOWN, "unknown, decided from 05:00", None, (ridge, gate)),
        ZonePicture("Creek terrace", 33.0, 40.0, Sign.NOW, "irrigate now", 40.9, bridges),
        ZonePicture("Nursery", 18.0, 25.0, Sign.PLAN, "plan an irrigation", 19.2, sheds),
    )
    return Picture("Quillmere Orchard", "Tue 12 May 2026, 05:20", 60.0, 60.0, zones, NEWS)


def bare(lines: list[str]) -> str:
    return "".join(f"{line.rstrip()}\n" for line in lines)


def unpainted(line: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", line)


def test_a_screen_of_80_columns_shows_bars_curves_limits_and_news() -> None:
    assert bare(draw(picture(), 80, 24, Style(UNICODE))) == AT_80


def test_a_wide_screen_gives_its_room_to_bars_and_curves_and_air_between_zones() -> None:
    assert bare(draw(picture(), 120, 30, Style(UNICODE))) == AT_120


def test_a_terminal_without_unicode_gets_letters_for_everything() -> None:
    lines = zone_lines(picture(), 80, Style(ASCII))
    assert bare(lines) == IN_ASCII
    assert bare(draw(picture(), 120, 40, Style(ASCII))).isascii()


def test_a_window_that_became_too_small_still_tells_zones_and_the_newest() -> None:
    assert bare(draw(picture(), 41, 7, Style(UNICODE))) == SMALL


@pytest.mark.parametrize("columns", [1, 20, 79, 80, 81, 83, 100, 120, 250])
@pytest.mark.parametrize("lines", [1, 5, 24, 29, 30, 60])
def test_nothing_is_wider_or_higher_than_the_terminal(columns: int, lines: int) -> None:
    for style in (Style(UNICODE), Style(ASCII), Style(UNICODE, attributes=True, colours=True)):
        drawn = draw(picture(), columns, lines, style)
        assert len(drawn) <= lines
        assert max(len(unpainted(line)) for line in drawn) <= columns


def test_paint_changes_no_character() -> None:
    painted = draw(picture(), 80, 24, Style(UNICODE, attributes=True, colours=True))
    assert [unpainted(line) for line in painted] == draw(picture(), 80, 24, Style(UNICODE))
    assert any("\x1b[38;5;" in line for line in painted)


def test_without_colours_no_colour_is_sent() -> None:
    assert not any("38;5" in line for line in draw(picture(), 80, 24, Style(UNICODE, attributes=True)))


def test_what_needs_a_person_stands_out_without_colours() -> None:
    lines = draw(picture(), 80, 24, Style(UNICODE, attributes=True))
    assert any("\x1b[7m● irrigate now 41 kPa\x1b[0m" in line for line in lines)
    assert any("\x1b[1m✗ open circuit\x1b[0m" in line for line in lines)
    assert any("\x1b[1m… silent\x1b[0m" in line for line in lines)


def test_when_news_are_many_the_newest_are_shown() -> None:
    many = tuple(News("05:00", Kind.FIELD, f"number {number}") for number in range(50))
    shown = [line for line in draw(replace(picture(), news=many), 80, 24, Style()) if "number" in line]
    assert [line.split()[-1] for line in shown] == [str(number) for number in range(39, 50)]


def test_a_long_line_of_news_is_cut_and_its_aside_left_out() -> None:
    line = news_line(News("05:14", Kind.MAIL, "a long subject " * 9, "to grower"), 60, Style(UNICODE))
    assert len(line) == 60
    assert line.endswith("…")
