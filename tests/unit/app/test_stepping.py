"""Every step in the life of alarms, for the notifiers that want them."""

import json
from collections.abc import Iterator
from typing import Any

import pytest

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.standing import Transition
from parchd.app.messages import Ask
from parchd.app.requests import Acknowledge, AnyRequest, PutBack, Shelve, TakeOut, Unshelve
from parchd.app.stepping import step_notice
from parchd.config.loaded import NotifierPolicy
from parchd.contract import Notice, NoticeKind, Priority
from parchd.testing.bench import MEMORY, Bench, engine_on
from parchd.testing.bodies import check_body
from parchd.testing.site import HOUR_US, START_US, engine_setup_of, line, names_of, route, small_site
from parchd_adapters.webhook.envelope import Envelope, pack

NORTH = ("n20", "n40", "n60")
ROUTES = (route("mail"), route("hook", "receiver", transitions=True, max_per_hour=1000))


@pytest.fixture
def bench() -> Iterator[Bench]:
    setup = engine_setup_of(routes=ROUTES, policies={"hook": NotifierPolicy(transitions=True)})
    with engine_on(MEMORY, setup) as running:
        yield running


def north(bench: Bench, now_us: int, kpa: float) -> None:
    bench.turn(now_us, line(now_us, **dict.fromkeys(NORTH, kpa)))


def ask(bench: Bench, now_us: int, request: AnyRequest) -> None:
    bench.turn(now_us, Ask(request, lambda _: None))


def sent(bench: Bench, notifier: str) -> list[Notice]:
    rows = bench.rows("SELECT notice FROM outbox WHERE notifier = ? ORDER BY id", notifier)
    return [Notice.from_json(text) for (text,) in rows]


def told(bench: Bench) -> list[tuple[str, str, str, str]]:
    """Type, and the step: before, after and who."""
    found = []
    for notice in sent(bench, "hook"):
        details: Any = json.loads(pack(notice).content)
        step = details["data"]["details"]["step"]
        found.append((details["type"], step["before"], step["after"], step["by"]))
    return found


def test_every_step_is_one_event_in_order(bench: Bench) -> None:
    north(bench, START_US, 45.0)
    ask(bench, START_US + 1, Acknowledge(subject="north", by="Ines", via="link"))
    north(bench, START_US + HOUR_US, 20.0)
    assert told(bench) == [
        ("alarm.raised", "normal", "unacknowledged", ""),
        ("alarm.acknowledged", "unacknowledged", "acknowledged", "Ines"),
        ("alarm.cleared", "acknowledged", "normal", ""),
    ]


def test_what_is_hidden_from_people_is_an_event_too(bench: Bench) -> None:
    ask(bench, START_US, Shelve(subject="north", kind=AlarmKind.IRRIGATE_PLAN, hours=5, why="new pipe", by="Ines"))
    north(bench, START_US + 1, 45.0)
    ask(bench, START_US + 2, Unshelve(subject="north"))
    ask(bench, START_US + 3, TakeOut(subject="north", kind=AlarmKind.IRRIGATE_PLAN, why="cut off"))
    ask(bench, START_US + 4, PutBack(subject="north"))
    assert told(bench) == [
        ("alarm.shelved", "normal", "shelved", "Ines"),
        ("alarm.raised", "shelved", "shelved", ""),
        ("alarm.unshelved", "shelved", "unacknowledged", ""),
        ("alarm.removed", "unacknowledged", "out-of-service", ""),
        ("alarm.restored", "out-of-service", "unacknowledged", ""),
    ]


def test_time_takes_steps_that_are_events(bench: Bench) -> None:
    ask(bench, START_US, Shelve(subject="north", kind=AlarmKind.IRRIGATE_PLAN, hours=1, why="new pipe"))
    bench.tick(START_US + HOUR_US)
    last = json.loads(pack(sent(bench, "hook")[-1]).content)["data"]["details"]
    assert (last["step"]["happening"], last["step"]["via"]) == ("unshelved", "clock")
    assert last["episode"] is None


def test_people_hear_what_they_always_do_and_the_program_nothing_twice(bench: Bench) -> None:
    north(bench, START_US, 45.0)
    ask(bench, START_US + 1, Acknowledge(subject="north", by="Ines"))
    assert [notice.kind for notice in sent(bench, "mail")] == [NoticeKind.RAISED]
    assert [notice.kind for notice in sent(bench, "hook")] == [NoticeKind.RAISED, NoticeKind.STEP]


def test_each_event_has_an_id_of_its_own_and_shares_the_thread_of_its_episode(bench: Bench) -> None:
    for n in range(3):
        north(bench, START_US + 2 * n * HOUR_US, 45.0)
        north(bench, START_US + (2 * n + 1) * HOUR_US, 20.0)
    notices = sent(bench, "hook")
    assert len(notices) == 6
    assert len({notice.id for notice in notices}) == 6
    assert len({notice.thread for notice in notices}) == 3


def test_a_notifier_that_does_not_want_steps_gets_none() -> None:
    with engine_on(MEMORY) as bench:
        north(bench, START_US, 45.0)
        ask(bench, START_US + 1, Acknowledge(subject="north", by="Ines"))
        assert len(sent(bench, "mail")) == 1


@pytest.mark.parametrize("happening", Happening)
@pytest.mark.parametrize("subject", ["zone/north", "tensiometer/north-20", "daemon/disk"])
def test_every_step_fits_the_schema_in_every_envelope(happening: Happening, subject: str) -> None:
    names = names_of(small_site()[0])
    for raised_us in (START_US, None):
        step = Transition(
            AlarmKey(AlarmKind.SILENT, subject), START_US + 1, State.NORMAL, happening, State.SHELVED, raised_us,
            "Ines", "new pipe", START_US + HOUR_US, via="link",
        )  # fmt: skip
        notice = step_notice(step, names, Priority.MEDIUM)
        for envelope in Envelope:
            details = check_body(pack(notice, envelope).content)["details"]
            assert details["step"]["happening"] == happening
            assert details["subject"] == subject
            assert ("zone" in details) == (subject == "tensiometer/north-20")
