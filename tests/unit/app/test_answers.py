"""How messages can be answered: links where there is a page for them, else a command."""

import dataclasses
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from parchd.alarms.book import AlarmState
from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.links import LinkAct, read
from parchd.alarms.standing import Transition
from parchd.app.answers import LinkMaker, LinkSetup, link_maker
from parchd.app.engine import Engine
from parchd.app.writing import MOST_ANSWERS, Writer
from parchd.contract import Notice, NoticeKind, Priority
from parchd.people.person import Person, Reach
from parchd.people.state import Item, Lane
from parchd.people.telling import Telling
from parchd.store.answered import set_link_key
from parchd.store.database import open_writer
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, batch, engine_setup_of, sample
from parchd.words import Voice

KEY = bytes(range(32))
URL = "https://parchd.quillmere.example"
LINKS = LinkSetup(URL, 7 * DAY_US)
NORTH = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")


def messages(folder: Path, links: LinkSetup | None) -> Iterator[Notice]:
    """What is sent when the north block gets dry, and wet again."""
    with closing(open_writer(folder / "parchd.db")) as connection:
        set_link_key(connection, KEY)
        engine = Engine(connection, dataclasses.replace(engine_setup_of(), links=links), START_US)
        now_us = START_US
        for minutes, tension_kpa in ((1, 70.0), (1, 10.0), (240, 10.0)):
            now_us += minutes * MINUTE_US
            engine.turn([batch(*(sample(f"n{depth}", now_us, tension_kpa) for depth in (20, 40, 60)))], now_us)
        for (text,) in connection.execute("SELECT notice FROM outbox ORDER BY id"):
            yield Notice.from_json(text)


def test_a_message_about_an_alarm_carries_links_that_the_engine_will_take(tmp_path: Path) -> None:
    raised, cleared = messages(tmp_path, LINKS)
    assert [(one.label, one.act) for one in raised.answers] == [
        ("Acknowledge", "acknowledge"),
        ("Keep quiet", "shelve"),
    ]
    for one in raised.answers:
        assert one.url.startswith(f"{URL}/a/")
        link = read(urlsplit(one.url).path.removeprefix("/a/"), KEY)
        assert (link.act, link.key, link.person) == (LinkAct(one.act), NORTH, "mail/anne")
        assert link.expires_us == START_US + MINUTE_US + 7 * DAY_US
    assert raised.kind is NoticeKind.RAISED
    assert cleared.kind is NoticeKind.CLEARED
    assert cleared.answers == (), "there is nothing to answer any more"


def test_without_a_page_a_message_says_which_command_answers(tmp_path: Path) -> None:
    raised, cleared = messages(tmp_path, None)
    assert raised.answers == ()
    assert raised.facts[-1] == ("Answer with", "parchd acknowledge north --alarm irrigate-now")
    assert "Answer with" not in dict(cleared.facts)


def test_the_same_turn_makes_the_same_links(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    assert list(messages(tmp_path / "one", LINKS)) == list(messages(tmp_path / "two", LINKS))


def test_work_can_be_told_of_where_work_helps() -> None:
    maker = LinkMaker(LINKS, KEY)
    alarm = AlarmKey(AlarmKind.LOST_WATER, "tensiometer/north-20")
    answers = maker.answers_for(alarm, START_US, "jost", Voice(language="de"), START_US + HOUR_US)
    assert [one.label for one in answers] == ["Quittieren", "Arbeit getan", "Stillstellen"]


def test_without_a_key_there_are_no_links(tmp_path: Path) -> None:
    with closing(open_writer(tmp_path / "parchd.db")) as connection:
        assert link_maker(connection, LINKS) is None
        set_link_key(connection, KEY)
        assert link_maker(connection, None) is None
        assert link_maker(connection, LINKS) == LinkMaker(LINKS, KEY)


@pytest.mark.parametrize("now_us", [START_US, START_US + 999_999])
def test_a_link_ends_on_a_whole_second(now_us: int) -> None:
    answer = LinkMaker(LINKS, KEY).answer(LinkAct.SHELVE, NORTH, START_US, "ines", "x", now_us)
    assert read(answer.url.rpartition("/")[2], KEY).expires_us == START_US + 7 * DAY_US


def test_a_message_about_several_alarms_acknowledges_the_most_urgent_each(tmp_path: Path) -> None:
    keys = [AlarmKey(AlarmKind.SILENT, f"tensiometer/north-{number}") for number in range(MOST_ANSWERS + 2)]
    items = tuple(waiting(key, is_over=number == 1) for number, key in enumerate(keys))
    ines = Person("ines", "Ines", (Reach("mail", "ines@quillmere.example"),))
    with closing(open_writer(tmp_path / "parchd.db")) as connection:
        set_link_key(connection, KEY)
        setup = dataclasses.replace(engine_setup_of(), links=LINKS)
        writer = Writer(connection, setup, AlarmState(), (), lambda _channel, _from, _to: ())
        notice = writer.write(Telling(ines, NoticeKind.GROUP, items, START_US))
        alone = writer.write(Telling(ines, NoticeKind.RAISED, items[:1], START_US))
    links = [read(one.url.rpartition("/")[2], KEY) for one in notice.answers]
    assert [link.key for link in links] == [keys[0], *keys[2 : MOST_ANSWERS + 1]], "what is over needs no answer"
    assert {link.act for link in links} == {LinkAct.ACKNOWLEDGE}
    assert all(one.label.startswith("Acknowledge: ") for one in notice.answers)
    assert len({one.label for one in notice.answers}) == MOST_ANSWERS
    assert alone.answers[0].url == notice.answers[0].url, "the same right is the same link, and works once in all"


def waiting(key: AlarmKey, *, is_over: bool) -> Item:
    step = Transition(key, START_US, State.NORMAL, Happening.RAISED, State.UNACKNOWLEDGED, START_US)
    return Item(NoticeKind.RAISED, step, None, Priority.MEDIUM, Lane.CALM, key.dotted, START_US, is_over=is_over)
