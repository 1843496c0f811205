from collections.abc import Iterator

import pytest

from parchd.cli.exits import Exit
from parchd.testing.commands import Farm, parchd
from parchd.testing.farm import mail, webhook
from parchd.testing.receivers import HttpReceiver, MailSandbox


@pytest.fixture
def mails() -> Iterator[MailSandbox]:
    with MailSandbox() as sandbox:
        yield sandbox


@pytest.fixture
def hooks() -> Iterator[HttpReceiver]:
    with HttpReceiver() as receiver:
        yield receiver


@pytest.fixture
def told(quillmere: Farm, mails: MailSandbox, hooks: HttpReceiver) -> Farm:
    """A farm that mails to one person, in quiet hours all day long, and calls one webhook."""
    quillmere.write(mail(mails) + 'quiet_hours = ["00:00", "23:59"]\n', webhook(hooks))
    return quillmere


def test_a_test_message_reaches_every_recipient_at_once(told: Farm, mails: MailSandbox, hooks: HttpReceiver) -> None:
    said = parchd("tell", told.config)
    assert said.code == Exit.OK
    assert said.out.splitlines() == [
        "people: anne@quillmere.example: delivered",
        f"hook: {hooks.url.removeprefix('http://')}: delivered",
    ]
    (letter,) = mails.mails
    assert "a test message" in letter.message["Subject"]
    (request,) = hooks.requests
    assert b'"type":"test"' in request.body


def test_one_notifier_may_be_asked_for(told: Farm, mails: MailSandbox, hooks: HttpReceiver) -> None:
    assert parchd("tell", told.config, "--notifier", "people").code == Exit.OK
    assert (len(mails.mails), len(hooks.requests)) == (1, 0)
    assert parchd("tell", told.config, "-n", "hook", "-n", "people").code == Exit.OK
    assert (len(mails.mails), len(hooks.requests)) == (2, 1)


def test_what_was_refused_is_told_with_the_reason_and_the_others_still_get_theirs(
    told: Farm, mails: MailSandbox, hooks: HttpReceiver
) -> None:
    mails.script("550 5.7.1 no mail from strangers")
    said = parchd("tell", told.config)
    assert said.code == Exit.FAILED
    first, second = said.out.splitlines()
    assert first.startswith("people: anne@quillmere.example: not delivered: ")
    assert "no mail from strangers" in first
    assert second.endswith(": delivered")
    assert len(hooks.requests) == 1


def test_a_server_that_is_away_is_told(told: Farm, mails: MailSandbox) -> None:
    mails.stop()
    said = parchd("tell", told.config, "-n", "people")
    assert said.code == Exit.FAILED
    assert "not delivered" in said.out
    assert "check host, port" in said.out


def test_a_notifier_that_is_not_there_is_named_with_those_that_are(told: Farm) -> None:
    said = parchd("tell", told.config, "-n", "pager")
    assert said.code == Exit.FAILED
    assert said.err == "parchd: no notifier is called pager; the configuration has: people, hook\n"


def test_a_configuration_without_notifiers_says_how_to_add_one(quillmere: Farm) -> None:
    said = parchd("tell", quillmere.config)
    assert said.code == Exit.FAILED
    assert "[notifiers.NAME]" in said.err


def test_no_journal_is_needed(told: Farm) -> None:
    assert parchd("tell", told.config).code == Exit.OK
    assert not told.journal.exists()
