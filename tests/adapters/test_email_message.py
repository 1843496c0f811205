"""How a notice looks as a mail, and what its headers say to other programs."""

import email
import re
from dataclasses import replace
from email.message import EmailMessage
from email.policy import SMTP
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.contract import AnswerLink, Chart, Line, Notice, NoticeKind, Priority, Table
from parchd.testing.notifier_suite import HOSTILE, hostile_notice, sample_notice
from parchd.words import Voice
from parchd_adapters.email.markup import html_text
from parchd_adapters.email.message import compose, message_id
from parchd_adapters.email.plain import COLUMNS, grid, plain_text
from parchd_adapters.email.words import badge, one_line

NOW_US = 1_780_000_123_000_000
ANNE = "anne@quillmere.example"
FROM = "alarms@quillmere.example"
CHART = Chart("north block, 7 days", "kPa", 0, 3_600_000_000, (Line("", (1.0, 2.0)),), alt="between 1 and 2 kPa")
QUIET = (NoticeKind.CLEARED, NoticeKind.DIGEST, NoticeKind.OVERFLOW, NoticeKind.STEP, NoticeKind.TEST)
EVERY = [(kind, priority) for kind in NoticeKind for priority in Priority]


def sent(notice: Notice, recipient: str = ANNE, from_address: str = FROM) -> EmailMessage:
    """The message as the other side reads it."""
    raw = compose(notice, recipient, from_address, NOW_US).as_bytes()
    parsed = email.message_from_bytes(raw, policy=SMTP)
    assert isinstance(parsed, EmailMessage)
    assert not parsed.defects
    return parsed


def part(message: EmailMessage, kind: str) -> str:
    body = message.get_body((kind,))
    assert isinstance(body, EmailMessage)
    assert not body.defects
    return str(body.get_content())


def test_the_headers_that_every_mail_needs_are_there() -> None:
    message = sent(sample_notice())
    assert message["Date"].datetime.timestamp() == 1_780_000_123  # time of sending, not of the event
    assert message["From"].addresses[0].addr_spec == FROM
    assert message["From"].addresses[0].display_name == "Quillmere Orchard (parchd)"
    assert message["To"].addresses[0].addr_spec == ANNE
    assert message["Subject"] == "subject-word: north block"
    assert re.fullmatch(r"<n1\.[0-9a-f]{20}@quillmere\.example>", message["Message-ID"])
    assert message["MIME-Version"] == "1.0"


def test_machines_are_told_that_a_machine_wrote_it() -> None:
    message = sent(sample_notice())
    assert message["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    assert message["X-Auto-Response-Suppress"] == "All"


def test_an_alarm_is_no_list_that_a_click_could_leave() -> None:
    """The reason stands on the page of the notifier."""
    message = sent(replace(sample_notice(), kind=NoticeKind.DIGEST))
    assert not [name for name in message if name.lower().startswith(("list-", "precedence"))]


def test_a_mail_is_plain_text_with_a_page_as_its_richer_form() -> None:
    message = sent(sample_notice())
    assert message.get_content_type() == "multipart/alternative"
    assert [part.get_content_type() for part in message.iter_parts()] == ["text/plain", "text/html"]


@pytest.mark.parametrize(("kind", "priority"), EVERY)
def test_only_high_alarms_that_are_raised_ask_for_attention(kind: NoticeKind, priority: Priority) -> None:
    message = sent(replace(sample_notice(), kind=kind, priority=priority))
    loud = priority is Priority.HIGH and kind is not NoticeKind.CLEARED
    assert (message["Importance"], message["X-Priority"]) == (("high", "1") if loud else (None, None))


def test_the_same_notice_keeps_its_name_at_every_attempt() -> None:
    first, second = (compose(sample_notice(), ANNE, FROM, NOW_US + n)["Message-ID"] for n in (0, 10**9))
    assert first == second


@pytest.mark.parametrize(
    "other",
    [
        replace(sample_notice(), id="n2"),
        replace(sample_notice(), site="Another orchard"),
        replace(sample_notice(), time_us=1),  # a new database that counts from the start again
    ],
)
def test_another_notice_has_another_name(other: Notice) -> None:
    assert message_id(other, ANNE, FROM) != message_id(sample_notice(), ANNE, FROM)


def test_two_recipients_get_two_names() -> None:
    assert message_id(sample_notice(), ANNE, FROM) != message_id(sample_notice(), "ben@quillmere.example", FROM)


@pytest.mark.parametrize(
    ("notice_id", "readable"),
    [
        ("silent.tensiometer.a-30.17.raised", "silent-tensiometer-a-30-17-raised"),
        ("..a..", "a"),
        ("...", "n"),
        ("x" * 99, "x" * 60),
    ],
)
def test_the_name_of_a_message_can_be_told_from_its_id(notice_id: str, readable: str) -> None:
    name = message_id(sample_notice(notice_id), ANNE, FROM)
    assert re.fullmatch(rf"<{readable}\.[0-9a-f]{{20}}@quillmere\.example>", name)


def test_all_messages_of_an_episode_hang_on_one_root_that_is_none_of_them() -> None:
    raised = sent(sample_notice("n1"))
    cleared = sent(replace(sample_notice("n2"), kind=NoticeKind.CLEARED, time_us=5))
    assert raised["References"] == cleared["References"] == raised["In-Reply-To"] == cleared["In-Reply-To"]
    assert len({raised["References"], raised["Message-ID"], cleared["Message-ID"]}) == 3


def test_another_episode_has_another_root() -> None:
    assert sent(sample_notice())["References"] != sent(replace(sample_notice(), thread="thread-2"))["References"]


def test_a_message_that_stands_alone_refers_to_nothing() -> None:
    message = sent(replace(sample_notice(), thread=None))
    assert message["References"] is None
    assert message["In-Reply-To"] is None


def test_names_of_messages_survive_a_domain_longer_than_a_line() -> None:
    from_address = f"alarms@{'a' * 60}.{'b' * 60}.example"
    raw = compose(sample_notice(), ANNE, from_address, NOW_US).as_bytes()
    for header in (b"Message-ID", b"References", b"In-Reply-To"):
        assert re.search(rb"^%s:\s+<\S+@%s>\r$" % (header, from_address[7:].encode()), raw, re.MULTILINE)


def test_a_subject_beyond_ascii_is_encoded_and_read_back() -> None:
    notice = replace(sample_notice(), subject="Nordhang: Tensiometer läuft leer, 0,30 m — prüfen")
    assert sent(notice)["Subject"] == "Nordhang: Tensiometer läuft leer, 0,30 m — prüfen"
    assert compose(notice, ANNE, FROM, NOW_US).as_bytes().isascii()


def test_an_empty_subject_falls_back_on_what_it_is_about() -> None:
    assert sent(replace(sample_notice(), subject="\r\n"))["Subject"] == "Raised, high priority"


def test_hostile_names_make_no_header_no_line_and_no_tag() -> None:
    harmless = sent(sample_notice())
    message = sent(hostile_notice())
    assert message.keys() == harmless.keys()
    assert message["Bcc"] is None
    assert message["Subject"].startswith("north Bcc: all@quillmere.example . [2J")
    assert "\n.\n" not in part(message, "plain")
    assert "<b>" not in part(message, "html")
    assert "&lt;b&gt;&amp;&quot;&#x27;" in part(message, "html")


@given(st.text(max_size=400))
@settings(max_examples=60, deadline=None)
def test_any_text_at_all_makes_a_mail_that_servers_take(text: str) -> None:
    notice = replace(
        hostile_notice(),
        subject=text,
        site=text,
        summary=text,
        facts=((text, text),),
        tables=(Table(text, (text, "b"), ((text, "c"),)),),
        lines=((text, text), ("What to do", text)),
        answers=(AnswerLink(text, "https://quillmere.example/a/1", text),),
        charts=(Chart(text, text, 0, 10, (Line(text, (1.0, 2.0)),), alt=text),),
    )
    raw = compose(notice, ANNE, FROM, NOW_US).as_bytes()
    assert raw.isascii()
    assert b"\r" not in raw.replace(b"\r\n", b"")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert max(map(len, raw.split(b"\r\n"))) <= 998  # RFC 5322, 2.1.1
    message = email.message_from_bytes(raw, policy=SMTP)
    assert message.keys() == sent(sample_notice()).keys()
    assert max(map(len, part(sent(notice), "plain").splitlines())) <= COLUMNS


LINES = (
    ("What", "The soil water tension of north block has reached 62 kPa."),
    ("Since when", "Mon 01 Jun 2026, 06:00"),
    ("How sure", "2 of 3 tensiometers have a say."),
    ("What it means", "The plants there take up less water than they need."),
    ("What to do", "Look at the ground, then irrigate."),
)
SEEN = AnswerLink("I have seen it", "https://parchd.quillmere.example/a/x?y=1&z=%20", "acknowledge")


def test_the_lines_say_it_all_in_both_forms_and_take_the_place_of_the_summary() -> None:
    notice = replace(sample_notice(), lines=LINES)
    page, plain = html_text(notice).replace("&nbsp;", " "), plain_text(notice)
    for form in (page, plain):
        places = [form.index(said) for pair in LINES for said in pair]
        assert places == sorted(places)
        assert "summary-word" not in form
    assert "Since when: Mon 01 Jun 2026, 06:00\n" in plain
    assert plain.index("What to do: ") < plain.index("Step by step") < plain.index("Details")


def test_what_to_do_in_order_is_numbered_and_one_thing_is_not() -> None:
    two = replace(sample_notice(), advice=("Look at it.", "Mend it."))
    assert "\n1. Look at it.\n2. Mend it.\n" in plain_text(two)
    assert "<ol" in html_text(two)
    assert "\n- Follow the advice-word.\n" in plain_text(sample_notice())
    assert "<ol" not in html_text(sample_notice())


def test_an_answer_is_a_button_as_high_as_a_thumb_and_a_line_that_is_never_broken() -> None:
    long = AnswerLink("Leave me in peace for 24 h", f"https://parchd.quillmere.example/a/{'x' * 90}", "shelve")
    notice = replace(sample_notice(), answers=(SEEN, long))
    page = Page(html_text(notice))
    links = [attributes for tag, attributes in page.tags if tag == "a"]
    assert [link["href"] for link in links] == [SEEN.url, long.url]
    assert all("padding:14px" in (link["style"] or "") for link in links)
    plain = plain_text(notice)
    assert f"I have seen it:\n  {SEEN.url}\n" in plain
    assert f"Leave me in peace for 24 h:\n  {long.url}\n" in plain


@pytest.mark.parametrize(
    "url",
    [
        "javascript:alert(1)", "ftp://quillmere.example/", "/a/1", "", "https://", "https://q.example/a b",
        "https://q.example/\r\nBcc:x", 'https://q.example/"><b>', "https://q.example/\u202e", "https://q.example/<b>",
        "https://q.example/'", "https://q.example/`",
    ],
)  # fmt: skip
def test_an_address_that_no_browser_should_open_makes_no_link(url: str) -> None:
    notice = replace(sample_notice(), answers=(AnswerLink("Yes", url, "acknowledge"),))
    shown = html_text(notice) + plain_text(notice)
    assert "<a " not in shown
    if "'" not in url and "`" not in url:
        assert not url or url not in shown


def test_a_mail_speaks_the_language_of_its_reader() -> None:
    notice = replace(sample_notice(), voice=Voice("de", time_zone="Europe/Berlin"))
    assert '<html lang="de"' in html_text(notice)


def test_a_number_is_never_parted_from_its_unit() -> None:
    page = html_text(replace(sample_notice(), subject="north-20: 62 kPa, 3 h", lines=(("a", "9 kPa"), ("b", "2 of 3"))))
    assert ">north\N{NON-BREAKING HYPHEN}20: 62&nbsp;kPa, 3&nbsp;h</h1>" in page
    assert "9&nbsp;kPa" in page


def test_one_line_leaves_ordinary_text_as_it_is() -> None:
    assert one_line("Nordhang 0,30 m: 62 kPa (größer)") == "Nordhang 0,30 m: 62 kPa (größer)"


def test_one_line_takes_out_what_could_mislead() -> None:
    assert one_line(HOSTILE) == "north Bcc: all@quillmere.example . [2J <b>&\"' block"


def test_facts_are_aligned_and_long_values_hang_under_themselves() -> None:
    lines = grid([("Zone", "north block"), ("Evidence", "word " * 20)], columns=40)
    assert lines[0] == "Zone      north block"
    assert lines[1].startswith("Evidence  word word")
    assert lines[2].startswith("          word")
    assert max(map(len, lines)) <= 40


def test_a_short_table_stays_in_columns() -> None:
    table = Table("State", ("Zone", "Tension"), (("north block", "62 kPa"), ("nursery", "9 kPa")))
    text = plain_text(replace(sample_notice(), tables=(table,)))
    assert "State\n-----\nZone         Tension\n--------------------\nnorth block  62 kPa\nnursery      9 kPa\n" in text


def test_a_wide_table_wraps_its_widest_column() -> None:
    rows = (("ridge-30", "fail", "no signal since 04:12 on channel bus1/ch4: check plug, cable and supply " * 2),)
    text = plain_text(replace(sample_notice(), tables=(Table("Sensors", ("Name", "Flag", "Note"), rows),)))
    assert max(map(len, text.splitlines())) <= COLUMNS
    assert "ridge-30  fail  no signal since" in text


def test_a_table_without_rows_still_shows_its_columns() -> None:
    text = plain_text(replace(sample_notice(), tables=(Table("Sensors", ("Name", "Flag"), ()),)))
    assert "Name  Flag\n----------\n" in text


def test_a_table_with_more_columns_than_a_line_has_room_loses_nothing() -> None:
    columns = tuple(f"c{n}" for n in range(60))
    for written in (plain_text, html_text):
        text = written(replace(sample_notice(), tables=(Table("Wide", columns, (columns,)),)))
        assert "c" in text


def test_the_signature_is_marked_as_one() -> None:
    signature = "\n-- \nSent by parchd for Quillmere Orchard.\nTime: Thu 28 May 2026, 20:26 (UTC). Message: n1\n"
    assert signature in plain_text(sample_notice())


class Page(HTMLParser):
    """Keeps the tags of a page, and checks that they nest."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._open: list[str] = []
        self.feed(text)
        self.close()
        assert self._open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "br", "img"):
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag


@pytest.mark.parametrize(("kind", "priority"), EVERY)
def test_the_page_loads_nothing_and_runs_nothing(kind: NoticeKind, priority: Priority) -> None:
    page = Page(html_text(replace(sample_notice(), kind=kind, priority=priority)))
    assert not {"script", "style", "link", "img", "iframe", "a", "form"} & {tag for tag, _ in page.tags}
    rich = Page(html_text(replace(sample_notice(), kind=kind, priority=priority, charts=(CHART,)), ["c1@q.example"]))
    assert [attributes["src"] for tag, attributes in rich.tags if tag == "img"] == ["cid:c1@q.example"]
    for _, attributes in page.tags:
        assert not {"src", "href", "background", "srcset"} & attributes.keys()
        assert "url(" not in (attributes.get("style") or "")


def test_hostile_names_do_not_open_tags() -> None:
    harmless = Page(html_text(replace(sample_notice(), tables=(Table("t", ("c",), (("x",),)),))))
    hostile = Page(html_text(replace(hostile_notice(), summary="s")))
    assert [tag for tag, _ in hostile.tags] == [tag for tag, _ in harmless.tags]


def test_hostile_lines_answers_and_charts_do_not_open_tags_either() -> None:
    def tags(text: str) -> list[str]:
        chart = replace(CHART, title=text, alt=text)
        notice = replace(
            sample_notice(),
            lines=((text, text), (text, text)),
            answers=(replace(SEEN, label=text),),
            charts=(chart, chart),
        )
        return [tag for tag, _ in Page(html_text(notice, ["c1@q.example"])).tags]

    assert tags(HOSTILE) == tags("harmless")


@pytest.mark.parametrize(("kind", "priority"), EVERY)
def test_kind_and_priority_are_told_by_word_and_shape_too(kind: NoticeKind, priority: Priority) -> None:
    look = badge(kind, priority)
    page = html_text(replace(sample_notice(), kind=kind, priority=priority))
    assert f"{look.shape}&nbsp; {look.word}" in page
    assert plain_text(replace(sample_notice(), kind=kind, priority=priority)).startswith(look.word.upper())


def test_no_two_badges_share_a_word_and_shapes_tell_how_urgent_it_is() -> None:
    looks = {badge(kind, priority) for kind, priority in EVERY}
    assert len({look.word for look in looks}) == len(looks) == 6 * 3 + 5
    assert len({look.shape for look in looks}) == 3 + 5
    for priority in Priority:
        asking = {badge(kind, priority) for kind in NoticeKind} - {badge(kind, priority) for kind in QUIET}
        assert len({(look.shape, look.ground) for look in asking}) == 1


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.1, definition)."""
    parts = (int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize(("kind", "priority"), EVERY)
def test_badges_can_be_read_by_weak_eyes(kind: NoticeKind, priority: Priority) -> None:
    look = badge(kind, priority)
    dark, light = sorted((luminance(look.ground), luminance(look.ink)))
    assert (light + 0.05) / (dark + 0.05) >= 4.5  # WCAG 2.1, success criterion 1.4.3


def test_badges_grow_darker_with_priority_so_that_any_eye_orders_them() -> None:
    low, medium, high = (luminance(badge(NoticeKind.RAISED, priority).ground) for priority in Priority)
    assert low > 2 * medium > 4 * high


def test_a_long_remark_stands_below_its_row_where_a_phone_has_no_room() -> None:
    remark = "open circuit since 04:12: check plug and cable"
    table = Table("Sensors", ("Name", "Depth", "Flag", "Note"), (("a", "b", "c", remark), ("d", "e", "f", "")))
    page = html_text(replace(sample_notice(), tables=(table,)))
    assert f">Note: {remark}</td></tr>" in page
    assert page.count("Note: ") == 1
    assert 'colspan="3"' in page
