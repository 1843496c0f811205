"""Using links in the engine: each is a right to one thing about one episode, once, and not for ever."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.alarms.events import AlarmKey, episode_name
from parchd.alarms.lifecycle import State
from parchd.alarms.links import Link, LinkAct, LinkVerdict, sign
from parchd.alarms.rules import AlarmKind
from parchd.app.engine import Engine
from parchd.app.messages import Ask
from parchd.app.requests import Answer, AnyRequest, RenewLinks, UseLink
from parchd.clock import US_PER_S
from parchd.contract import Verdict
from parchd.store.answered import set_link_key
from parchd.store.database import open_writer
from parchd.store.services import records
from parchd.store.standings import history, load_standings
from parchd.testing.site import DAY_US, HOUR_US, MINUTE_US, START_US, batch, engine_setup_of, sample

KEY = bytes(range(32))
NORTH = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")


class Farm:
    """An engine with an alarm in the north block, since `RAISED_US`."""

    def __init__(self, folder: Path) -> None:
        self.connection = open_writer(folder / "parchd.db")
        set_link_key(self.connection, KEY)
        self.engine = Engine(self.connection, engine_setup_of(), START_US)
        self.now_us = START_US
        self.read(70.0)
        self.raised_us = self.standing_us(NORTH)

    def read(self, tension_kpa: float) -> None:
        self.now_us += MINUTE_US
        samples = [sample(f"n{depth}", self.now_us, tension_kpa) for depth in (20, 40, 60)]
        self.engine.turn([batch(*samples)], self.now_us)

    def standing_us(self, key: AlarmKey) -> int:
        raised_us = load_standings(self.connection)[key].raised_us
        assert raised_us is not None
        return raised_us

    def state(self, key: AlarmKey = NORTH) -> State:
        one = load_standings(self.connection).get(key)
        return State.NORMAL if one is None else one.state

    def link(self, act: LinkAct, key: AlarmKey = NORTH, person: str = "ines", **changed: int) -> str:
        made = {"raised_us": self.raised_us, "expires_us": START_US + 7 * DAY_US, **changed}
        return sign(Link(act, key, person=person, **made), KEY)

    def ask(self, request: AnyRequest) -> Answer:
        answers: list[Answer] = []
        self.engine.turn([Ask(request, answers.append)], self.now_us)
        return answers[-1]

    def use(self, token: str, **form: object) -> Answer:
        return self.ask(UseLink.model_validate({"token": token, **form}))


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[Farm]:
    found = Farm(tmp_path)
    yield found
    found.connection.close()


def test_a_link_acknowledges_and_it_is_written_down_who_did_and_how(farm: Farm) -> None:
    answer = farm.use(farm.link(LinkAct.ACKNOWLEDGE))
    assert (answer.state, answer.verdict) == ("done", Verdict.DONE)
    assert farm.state() is State.ACKNOWLEDGED
    *_, step = history(farm.connection)
    assert (step.by, step.via, step.time_us) == ("ines", "link", farm.now_us)


def test_a_link_shelves_for_as_long_as_was_chosen(farm: Farm) -> None:
    answer = farm.use(farm.link(LinkAct.SHELVE), hours=4, why="harvest")
    assert answer.verdict is Verdict.DONE
    assert answer.until_us == farm.now_us + 4 * HOUR_US
    one = load_standings(farm.connection)[NORTH]
    assert (one.state, one.until_us, one.why, one.by) == (State.SHELVED, farm.now_us + 4 * HOUR_US, "harvest", "ines")


def test_a_link_works_once(farm: Farm) -> None:
    token = farm.link(LinkAct.SHELVE)
    assert farm.use(token).verdict is Verdict.DONE
    steps = len(list(history(farm.connection)))
    again = farm.use(token, hours=72)
    assert (again.state, again.verdict) == ("failed", LinkVerdict.USED)
    assert len(list(history(farm.connection))) == steps, "nothing was changed"


def test_what_was_used_stays_used_over_a_restart(farm: Farm) -> None:
    token = farm.link(LinkAct.SHELVE)
    farm.use(token)
    farm.engine = Engine(farm.connection, engine_setup_of(), farm.now_us)
    assert farm.use(token).verdict is LinkVerdict.USED


def test_links_of_two_people_are_two_rights(farm: Farm) -> None:
    assert farm.use(farm.link(LinkAct.SHELVE, person="ines"), hours=4).verdict is Verdict.DONE
    assert farm.use(farm.link(LinkAct.SHELVE, person="tom"), hours=12).verdict is Verdict.DONE
    assert load_standings(farm.connection)[NORTH].by == "tom"


def test_a_link_ends_with_its_time(farm: Farm) -> None:
    token = farm.link(LinkAct.ACKNOWLEDGE, expires_us=farm.now_us // US_PER_S * US_PER_S)
    assert farm.use(token).verdict is LinkVerdict.EXPIRED
    assert farm.state() is State.UNACKNOWLEDGED


def test_a_link_ends_with_its_episode_and_does_nothing_to_the_next(farm: Farm) -> None:
    token = farm.link(LinkAct.ACKNOWLEDGE)
    farm.use(farm.link(LinkAct.ACKNOWLEDGE, person="tom"))
    farm.read(10.0)
    farm.now_us += 3 * HOUR_US
    farm.read(10.0)
    assert farm.state() is State.NORMAL
    assert farm.use(token).verdict is LinkVerdict.ENDED
    farm.now_us += DAY_US
    farm.read(70.0)
    farm.read(70.0)
    assert farm.standing_us(NORTH) != farm.raised_us
    assert farm.use(token).verdict is LinkVerdict.ENDED
    assert farm.state() is State.UNACKNOWLEDGED


@pytest.mark.parametrize("token", ["", "x", "A" * 106])
def test_what_nobody_signed_does_nothing(farm: Farm, token: str) -> None:
    assert farm.use(token).verdict is LinkVerdict.FORGED
    assert farm.state() is State.UNACKNOWLEDGED


def test_an_alarm_that_somebody_else_acknowledged_leaves_the_link_unused(farm: Farm) -> None:
    farm.use(farm.link(LinkAct.ACKNOWLEDGE, person="tom"))
    mine = farm.link(LinkAct.ACKNOWLEDGE, person="ines")
    assert farm.use(mine).verdict is LinkVerdict.NEEDLESS
    assert farm.connection.execute("SELECT count(*) FROM answered").fetchone() == (1,)


def test_links_that_were_sent_do_nothing_once_the_key_is_another(farm: Farm) -> None:
    token = farm.link(LinkAct.ACKNOWLEDGE)
    assert farm.ask(RenewLinks(key="5a" * 32)).state == "done"
    assert farm.use(token).verdict is LinkVerdict.FORGED


def test_the_key_is_in_no_text_of_the_request() -> None:
    assert "5a5a" not in repr(RenewLinks(key="5a" * 32))


def test_work_that_is_done_is_written_down_as_a_service_and_the_alarm_is_acknowledged(farm: Farm) -> None:
    key = AlarmKey(AlarmKind.ABOVE_LIMIT, "tensiometer/north-20")
    for _ in range(10):
        farm.now_us += 10 * MINUTE_US
        farm.engine.turn([batch(sample("n20", farm.now_us, 95.0))], farm.now_us)
    assert farm.state(key) is State.UNACKNOWLEDGED
    token = farm.link(LinkAct.SERVICE, key, raised_us=farm.standing_us(key))
    answer = farm.use(token, work="refill", ago_h=1)
    assert answer.verdict is Verdict.DONE
    (service,) = records(farm.connection)
    done_us = farm.now_us - HOUR_US
    assert (service.tensiometer, service.work, service.by) == ("north-20", "refill", "ines")
    assert (service.begin_us, service.end_us) == (done_us - 30 * MINUTE_US, done_us + 12 * HOUR_US)
    assert answer.until_us == service.end_us
    assert any(step.key == key and step.via == "link" and step.by == "ines" for step in history(farm.connection))
    assert farm.use(token).verdict in (LinkVerdict.USED, LinkVerdict.ENDED)


def test_used_links_are_forgotten_after_they_expired(farm: Farm) -> None:
    farm.use(farm.link(LinkAct.SHELVE, expires_us=START_US + HOUR_US))
    (row,) = farm.connection.execute("SELECT expires_us, asked FROM answered")
    assert row[0] == START_US + HOUR_US
    assert "token" not in json.loads(row[1])


def test_the_episode_of_a_link_is_the_one_that_messages_name(farm: Farm) -> None:
    assert episode_name(NORTH, farm.raised_us).startswith("irrigate-now.zone.north.")
