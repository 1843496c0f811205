"""Charts within mails: drawn by a process of their own, and never waited for too long."""

import email
import io
import json
import logging
import subprocess
import sys
import time
from dataclasses import replace
from email.message import EmailMessage
from email.policy import SMTP
from itertools import pairwise

import pytest
from PIL import Image

from parchd.clock import SystemClock
from parchd.contract import Chart, Limit, Line, Mark, Notice
from parchd.testing.mail_sandbox import MailSandbox
from parchd.testing.notifier_suite import sample_notice
from parchd.words import DateStyle, Voice
from parchd_adapters.email import EmailNotifier, EmailOptions
from parchd_adapters.email import pictures as pictures_module
from parchd_adapters.email.drawing import HIGH_PX, WIDE_PX, draw, with_room
from parchd_adapters.email.markup import html_text
from parchd_adapters.email.message import compose
from parchd_adapters.email.pictures import KEPT, MOST, Pictures
from parchd_adapters.email.plain import plain_text
from parchd_adapters.email.sparks import spark, spark_line

HOUR_US = 3_600_000_000
START_US = 1_780_000_000_000_000
COURSE = tuple(round(8.0 + 0.3 * n, 1) for n in range(168))
CHART = Chart(
    "north block: soil water tension, 7 days", "kPa", START_US, HOUR_US,
    (Line("together", COURSE), Line("north-20", tuple(1.1 * kpa for kpa in COURSE), is_main=False)),
    (Limit("irrigate now", 50.0), Limit("plan an irrigation", 30.0)), (Mark("raised", START_US + 150 * HOUR_US),),
    alt="north block: between 8 kPa and 58 kPa.",
)  # fmt: skip
ANNE, FROM = "anne@quillmere.example", "alarms@quillmere.example"


def notice_with(*charts: Chart) -> Notice:
    return replace(sample_notice(), charts=charts)


def picture_of(chart: Chart, voice: Voice | None = None) -> Image.Image:
    picture = Image.open(io.BytesIO(draw(chart, voice or Voice())))
    picture.load()
    return picture


def near(picture: Image.Image, colour: str) -> int:
    """How many pixels have about a colour."""
    wanted = tuple(int(colour[n : n + 2], 16) for n in (1, 3, 5))
    found = picture.convert("RGB").getcolors(100_000) or []
    return sum(
        n
        for n, rgb in found
        if isinstance(rgb, tuple) and max(abs(a - b) for a, b in zip(rgb, wanted, strict=True)) < 24
    )


def test_a_picture_is_small_and_has_the_size_it_says() -> None:
    content = draw(CHART, Voice(time_zone="Europe/Berlin"))
    assert Image.open(io.BytesIO(content)).size == (WIDE_PX, HIGH_PX)
    assert len(content) < 20_000


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert draw(CHART, Voice()) == draw(CHART, Voice())


def test_main_line_and_limits_can_be_seen() -> None:
    whole, bare = picture_of(CHART), picture_of(replace(CHART, limits=()))
    assert near(whole, "#4f1547") > 1000
    assert near(whole, "#a34a14") > 3 * near(bare, "#a34a14") + 500


def test_a_gap_is_a_gap() -> None:
    full = replace(CHART, lines=CHART.lines[:1], limits=(), marks=())
    holed = replace(full, lines=(Line("", (*COURSE[:40], *[None] * 80, *COURSE[120:])),))
    assert near(picture_of(holed), "#4f1547") < 0.75 * near(picture_of(full), "#4f1547")


@pytest.mark.parametrize(
    "chart",
    [
        Chart("nothing", "kPa", START_US, HOUR_US, ()),
        Chart("gaps only", "kPa", START_US, HOUR_US, (Line("a", (None, None)),)),
        Chart("one value", "kPa", START_US, HOUR_US, (Line("a", (3.0,)),)),
        Chart("lone values", "kPa", START_US, HOUR_US, (Line("a", (None, 3.0, None, 4.0, None)),)),
        Chart("free water", "kPa", START_US, HOUR_US, (Line("a", (-3.0, -5.0)),), (Limit("plan", -2.0),)),
        Chart("flat", "hPa", START_US, HOUR_US, (Line("a", (0.0, 0.0)),)),
        Chart("$x^2 {}", "kPa", START_US, HOUR_US, (Line("$\\frac$", (1.0, 2.0)), Line("b" * 40, (1.0, 2.0)))),
        Chart("marks outside", "kPa", START_US, HOUR_US, (Line("a", (1.0, 2.0)),), marks=(Mark("m", 0),)),
        Chart("four weeks", "kPa", START_US, 3 * HOUR_US, tuple(Line(f"n{n}", COURSE) for n in range(9))),
    ],
    ids=lambda chart: chart.title,
)
def test_any_chart_can_be_drawn(chart: Chart) -> None:
    assert picture_of(chart).size == (WIDE_PX, HIGH_PX)


@pytest.mark.parametrize("voice", [Voice("de"), Voice(date_style=DateStyle.ISO, time_zone="Pacific/Auckland")])
def test_days_are_written_for_the_reader(voice: Voice) -> None:
    assert draw(CHART, voice) != draw(CHART, Voice())


@pytest.mark.parametrize(
    ("wide_px", "days", "count"), [(612, 21, 4), (612, 7, 3), (300, 21, 2), (300, 7, 2), (900, 3, 3)]
)
def test_no_day_below_a_chart_touches_the_next(wide_px: int, days: int, count: int) -> None:
    day_us = 24 * HOUR_US
    chart = Chart("days", "kPa", START_US, HOUR_US, (Line("a", (1.0,) * (24 * days)),))
    shown = with_room([START_US + n * day_us for n in range(days)], chart, wide_px)
    px_a_day = wide_px / days
    assert len(shown) == count
    assert all((late - early) / day_us * px_a_day >= 100 for early, late in pairwise(shown))


def test_a_process_of_its_own_draws_all_charts_of_a_message() -> None:
    drawn = Pictures().of(notice_with(CHART, replace(CHART, unit="hPa")))
    assert [picture[:8] for picture in drawn] == [b"\x89PNG\r\n\x1a\n"] * 2
    assert drawn[0] == draw(CHART, Voice())


def test_what_draws_is_never_loaded_by_the_daemon() -> None:
    code = "import sys, parchd_adapters.email; sys.exit('matplotlib' in sys.modules or 'PIL' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


@pytest.fixture
def starts(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the drawing program was asked, each time it was started."""
    asked: list[str] = []
    run = subprocess.run

    def counted(*words: object, **options: object) -> object:
        asked.append(str(options["input"]))
        return run(*words, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(subprocess, "run", counted)
    return asked


def stub(monkeypatch: pytest.MonkeyPatch, code: str) -> None:
    """Let another program draw."""
    monkeypatch.setattr(pictures_module, "_DRAW", (sys.executable, "-c", code))


def test_a_message_to_several_people_is_drawn_once_and_the_oldest_is_forgotten(
    monkeypatch: pytest.MonkeyPatch, starts: list[str]
) -> None:
    stub(monkeypatch, "print('aGk=')")
    pictures = Pictures()
    for _ in range(3):
        assert pictures.of(replace(notice_with(CHART), id="another")) == (b"hi",)
    assert len(starts) == 1
    for number in range(KEPT):
        pictures.of(notice_with(replace(CHART, start_us=number)))
    pictures.of(notice_with(CHART))
    assert len(starts) == KEPT + 2


def test_a_message_without_charts_starts_nothing(starts: list[str]) -> None:
    assert Pictures().of(sample_notice()) == ()
    assert starts == []


def test_only_so_many_charts_are_drawn_and_the_others_are_told_in_words(
    monkeypatch: pytest.MonkeyPatch, starts: list[str]
) -> None:
    stub(monkeypatch, f"print('aGk= ' * {MOST})")
    many = notice_with(*[CHART] * (MOST + 3))
    drawn = Pictures().of(many)
    assert len(drawn) == MOST == len(json.loads(starts[0])["charts"])
    page = html_text(many, [f"c{n}" for n in range(MOST)]).replace("&nbsp;", " ")
    assert page.count("<img ") == MOST
    assert page.count(f">{CHART.alt}</p>") == 3


@pytest.mark.parametrize(
    ("code", "trouble"),
    [
        ("import sys; sys.exit('no library')", "no library"),
        ("import nothing_of_this_name", "No module named 'nothing_of_this_name'"),
        ("print('not base64!')", ""),
        ("pass", "0 of 1 were drawn"),
        ("import sys; sys.exit(3)", "no word why"),
    ],
)
def test_charts_that_fail_are_left_out_and_logged(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, code: str, trouble: str
) -> None:
    stub(monkeypatch, code)
    assert Pictures().of(notice_with(CHART)) == ()
    (record,) = caplog.records
    assert record.__dict__["event"] == "email.no_charts"
    assert trouble in record.getMessage()


def test_charts_that_take_too_long_are_not_waited_for(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    stub(monkeypatch, "import time; time.sleep(60)")
    begun = time.monotonic()
    assert Pictures(within_s=0.3).of(notice_with(CHART)) == ()
    assert time.monotonic() - begun < 10.0
    assert "not drawn within 0.3 s" in caplog.text
    assert caplog.records[0].levelno == logging.WARNING


def test_secrets_in_the_environment_stay_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PARCHD_NOTIFIERS__PEOPLE__PASSWORD", "secret")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", "/somewhere")
    stub(monkeypatch, "import base64, os; print(base64.b64encode('\\n'.join(os.environ).encode()).decode())")
    (names,) = Pictures().of(notice_with(CHART))
    assert b"PATH" in names
    assert b"PARCHD" not in names
    assert b"CREDENTIALS" not in names


def sent(notice: Notice, pictures: tuple[bytes, ...]) -> EmailMessage:
    parsed = email.message_from_bytes(compose(notice, ANNE, FROM, 5, pictures).as_bytes(), policy=SMTP)
    assert isinstance(parsed, EmailMessage)
    for part in parsed.walk():
        assert not part.defects
    return parsed


def test_pictures_stand_in_the_page_and_in_the_message() -> None:
    message = sent(notice_with(CHART, CHART), (b"\x89PNG one", b"\x89PNG two"))
    assert [part.get_content_type() for part in message.walk()] == [
        "multipart/alternative", "text/plain", "multipart/related", "text/html", "image/png", "image/png",
    ]  # fmt: skip
    page = message.get_body(("html",))
    assert page is not None
    content = str(page.get_content()).replace("&nbsp;", " ")
    images = [part for part in message.walk() if part.get_content_type() == "image/png"]
    for number, part in enumerate(images, 1):
        name = str(part["Content-ID"]).strip("<>")
        assert f'src="cid:{name}"' in content
        assert name.endswith("@quillmere.example")
        assert part.get_content_disposition() == "inline"
        assert part.get_filename() == f"chart-{number}.png"
    assert content.count(f'alt="{CHART.alt}"') == 2
    assert images[1].get_payload(decode=True) == b"\x89PNG two"


def test_without_pictures_the_mail_says_in_words_what_they_show() -> None:
    message = sent(notice_with(CHART), ())
    assert [part.get_content_type() for part in message.walk()][-1] == "text/html"
    page = message.get_body(("html",))
    assert page is not None
    assert f">{CHART.alt}</p>" in str(page.get_content()).replace("&nbsp;", " ")


def test_names_of_pictures_are_the_same_at_every_attempt_and_others_in_another_message() -> None:
    def names(notice: Notice) -> list[str]:
        return [str(part["Content-ID"]) for part in sent(notice, (b"a", b"b")).walk() if part["Content-ID"]]

    first = names(notice_with(CHART, CHART))
    assert first == names(notice_with(CHART, CHART))
    assert len({*first, *names(replace(notice_with(CHART, CHART), id="n2"))}) == 4


def test_plain_text_draws_the_course_in_a_line() -> None:
    text = plain_text(notice_with(CHART))
    assert f"{CHART.alt}\n  ▁" in text
    assert "█ 8 to 58 kPa\n" in text


def test_a_line_of_bars_has_one_for_each_part_and_dots_for_gaps() -> None:
    assert spark([0.0, None, 7.0]) == "▁·█"
    assert spark([5.0, 5.0]) == "▁▁"
    assert spark([None, None]) == "··"
    assert spark([]) == ""
    assert len(spark(list(COURSE))) == 48
    assert spark_line(replace(CHART, lines=()), Voice()) == ""
    assert spark_line(replace(CHART, lines=(Line("a", (None,)),)), Voice()) == ""


@pytest.mark.parametrize(("charts", "drawn"), [(True, 1), (False, 0)])
def test_pictures_can_be_left_out_on_purpose(
    monkeypatch: pytest.MonkeyPatch, starts: list[str], charts: bool, drawn: int
) -> None:
    stub(monkeypatch, "print('aGk=')")
    with MailSandbox() as sandbox:
        options = {"host": sandbox.host, "port": sandbox.port, "security": "plain", "from_address": FROM, "to": [ANNE]}
        chosen = EmailOptions.model_validate(options | {"charts": charts})
        EmailNotifier(chosen, SystemClock()).send(notice_with(CHART), ANNE)
    (mail,) = sandbox.mails
    assert len(starts) == drawn
    assert [part.get_content_type() for part in mail.message.walk()].count("image/png") == drawn
    assert CHART.alt in mail.plain
