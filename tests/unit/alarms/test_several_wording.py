"""What is said of several alarms at once."""

import pytest

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.rules import AlarmKind
from parchd.alarms.several_wording import MOST_STEPS, Tiding, several_notice
from parchd.alarms.wording import alarm_notice
from parchd.contract import Chart, Line, Notice, NoticeKind, Priority
from parchd.testing.site import HOUR_US, START_US, names_of, small_site
from parchd.words import Voice

NAMES = names_of(small_site()[0])
VOICE = Voice(time_zone="Europe/Berlin")
CHART = Chart("north", "kPa", 0, 10, (Line("", (1.0,)),))
DRY = AlarmEvent(
    AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north"), Change.RAISED, START_US, START_US, 62.4, 60.0,
    {"tensiometers": 2, "of": 3},
)  # fmt: skip
SILENT = AlarmEvent(AlarmKey(AlarmKind.SILENT, "tensiometer/north-20"), Change.RAISED, START_US, START_US - HOUR_US)
BACK = AlarmEvent(SILENT.key, Change.CLEARED, START_US, START_US - HOUR_US)


def tiding(event: AlarmEvent = DRY, *, asks: bool = True, charts: tuple[Chart, ...] = (), **how: bool) -> Tiding:
    return Tiding(alarm_notice(event, NAMES, VOICE, charts=charts), asks, since_us=event.raised_us, **how)


def several(*tidings: Tiding, kind: NoticeKind = NoticeKind.GROUP, alarms: int = 0) -> Notice:
    return several_notice(
        kind, tidings, VOICE, notice_id="g1", time_us=START_US, site="Quillmere Orchard", priority=Priority.HIGH,
        alarms=alarms,
    )  # fmt: skip


def test_a_group_begins_with_the_need_of_its_most_urgent_and_counts_the_others() -> None:
    notice = several(tiding(), tiding(SILENT), tiding(BACK, asks=False))
    assert notice.subject == "north block: irrigate now (62 kPa), and 2 more"
    assert notice.kind is NoticeKind.GROUP
    assert [label for label, _ in notice.lines] == ["What", "Since when", "How sure", "What it means", "What to do"]
    lines = dict(notice.lines)
    assert lines["What"] == "2 alarms ask for a response. 1 is over."
    assert lines["Since when"] == "The first Mon 01 Jun 2026, 05:00."
    assert lines["What to do"] == "Begin with the first of the list."


def test_each_alarm_is_a_row_with_what_happened_and_how_urgent_it_is() -> None:
    (table,) = several(
        tiding(),
        tiding(SILENT, comes_and_goes=True),
        tiding(SILENT, asks=False, is_over=True),
        tiding(BACK, asks=False),
    ).tables
    assert [row[1:3] for row in table.rows] == [
        ("raised", "high"), ("comes and goes", "medium"), ("raised and over again", "medium"), ("over", "medium"),
    ]  # fmt: skip
    assert table.rows[0] == ("Mon 1 Jun, 06:00", "raised", "high", "north block: irrigate now (62 kPa)")


def test_what_to_do_first_is_said_of_each_that_asks_and_of_so_many_as_one_reads() -> None:
    notice = several(tiding(), tiding(BACK, asks=False), *[tiding(SILENT)] * MOST_STEPS)
    assert len(notice.advice) == MOST_STEPS
    assert notice.advice[0].startswith("north block: irrigate now (62 kPa): Look at the ground, then irrigate.")
    assert notice.advice[1].startswith("north block: look at cable and supply of north-20 (no data): See whether")


def test_when_all_is_over_nothing_is_left_to_do() -> None:
    notice = several(tiding(BACK, asks=False), tiding(SILENT, asks=False, is_over=True))
    assert dict(notice.lines)["What"] == "2 are over."
    assert dict(notice.lines)["What to do"] == "Nothing: this is over."
    assert notice.advice == ()


def test_a_flood_says_how_many_there_were_and_to_look_for_one_cause() -> None:
    notice = several(tiding(), tiding(SILENT), kind=NoticeKind.FLOOD, alarms=14)
    assert notice.subject == "north block: irrigate now (62 kPa), the most urgent of 14 alarms in ten minutes"
    assert dict(notice.lines)["What"] == "14 alarms came within ten minutes."
    assert "one cause" in dict(notice.lines)["What to do"]
    assert len(notice.tables[0].rows) == 2


@pytest.mark.parametrize("charts", [((), (CHART,)), ((CHART,), ())])
def test_one_picture_goes_with_it_that_of_the_most_urgent_that_has_any(charts: tuple[tuple[Chart, ...], ...]) -> None:
    assert several(*(tiding(charts=each) for each in charts)).charts == (CHART,)


def test_one_alarm_that_was_gathered_alone_keeps_its_subject() -> None:
    assert several(tiding(SILENT)).subject == "north block: look at cable and supply of north-20 (no data)"
