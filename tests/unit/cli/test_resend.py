"""Sending messages again, without a daemon: they wait for it under their old ids."""

from dataclasses import replace

import pytest

from parchd.app.messages import Delivery, Outcome, Post
from parchd.cli.exits import Exit
from parchd.clock import SystemClock
from parchd.contract import Notice, NoticeKind
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import mail, webhook
from parchd.testing.receivers import HttpReceiver, MailSandbox
from parchd.testing.site import DAY_US

NOW_US = SystemClock().now_us()
RECIPIENTS = {"people": ("anne@quillmere.example",), "hook": ("receiver",)}
NOTICE = Notice("n", NoticeKind.TEST, NOW_US, "Quillmere Orchard", "Subject", "Summary")


@pytest.fixture
def told(quillmere: Farm) -> Farm:
    """A farm that sent a message through each notifier, on three days; those of the second day were refused."""
    quillmere.write(mail(MailSandbox(port=9)), webhook(HttpReceiver()))
    with quillmere.engine(recipients=RECIPIENTS) as bench:
        for days, outcome in ((40, Outcome.SENT), (2, Outcome.REFUSED), (1, Outcome.SENT)):
            then_us = NOW_US - days * DAY_US
            bench.turn(then_us, Post(replace(NOTICE, id=f"n{days}")))
            rows = bench.rows("SELECT id, notifier FROM outbox WHERE state = 'ready'")
            bench.turn(then_us, *(Delivery(notifier, row_id, 0, outcome) for row_id, notifier in rows))
    return quillmere


def states(farm: Farm) -> dict[str, str]:
    with farm.engine(recipients=RECIPIENTS) as bench:
        return {
            f"{notifier} {notice_id.partition('.')[0]}": state
            for notifier, notice_id, state in bench.rows("SELECT notifier, notice_id, state FROM outbox ORDER BY id")
        }


def test_all_of_a_span_is_sent_again_through_every_notifier(told: Farm) -> None:
    said = parchd("resend", told.config, "--since", "7d")
    assert said.code == Exit.OK
    assert said.out.splitlines() == ["people: 2 messages go out again", "hook: 2 messages go out again"]
    assert states(told) == {
        "people n40": "sent", "hook n40": "sent", "people n2": "ready", "hook n2": "ready",
        "people n1": "ready", "hook n1": "ready",
    }  # fmt: skip


def test_one_notifier_and_what_never_arrived_may_be_chosen(told: Farm) -> None:
    said = parchd("resend", told.config, "--since", "7d", "-n", "hook", "--undelivered")
    assert said.out == "hook: 1 message goes out again\n"
    assert [name for name, state in states(told).items() if state == "ready"] == ["hook n2"]


def test_a_span_may_have_an_end(told: Farm) -> None:
    assert parchd("resend", told.config, "--since", "60d", "--until", "36h", "-n", "hook").out.startswith("hook: 2 ")


def test_a_span_without_messages_says_so(told: Farm) -> None:
    assert parchd("resend", told.config, "--since", "1h", "-n", "hook").out == "hook: no messages go out again\n"


def test_a_receiver_that_wanted_no_more_is_named(told: Farm) -> None:
    with told.engine(recipients=RECIPIENTS) as bench:
        bench.turn(NOW_US, Post(NOTICE, "hook"))
        ((row_id,),) = bench.rows("SELECT id FROM outbox WHERE state = 'ready'")
        bench.turn(NOW_US, Delivery("hook", row_id, 0, Outcome.GONE, "receiver answered 410"))
    said = parchd("resend", told.config, "--since", "7d", "-n", "hook")
    assert "not before its table in the configuration changes: receiver answered 410" in said.out


def test_a_notifier_that_is_not_there_is_an_error(told: Farm) -> None:
    said = parchd("resend", told.config, "--since", "7d", "-n", "hoook")
    assert said.code == Exit.FAILED
    assert "no notifier is called hoook; the configuration has: people, hook" in said.err


def test_without_a_begin_it_is_not_done(told: Farm) -> None:
    assert parchd("resend", told.config).code == Exit.USAGE
