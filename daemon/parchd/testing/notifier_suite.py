"""What every notifier must do, as tests to inherit.

A notifier of your own passes them with a class like this::

    from parchd.testing.notifier_suite import NotifierSuite

    class TestMyNotifier(NotifierSuite):
        kind = my_package.KIND
        options = {"host": "127.0.0.1", "port": 9}  # valid, though nobody is there

        @pytest.fixture
        def rig(self) -> Iterator[MyRig]:
            with MyRig() as rig:
                yield rig

The rig is the notifier and its receiver: see `NotifierRig`.
"""

import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Protocol

import pytest
from pydantic import ValidationError

from parchd.contract import (
    AdapterKind,
    AnswerLink,
    Chart,
    DeliveryRefused,
    DeliveryRetry,
    Line,
    Notice,
    NoticeKind,
    Notifier,
    Priority,
    Services,
    Table,
)
from parchd.testing.clock import FakeClock

__all__ = ["Arrival", "NotifierRig", "NotifierSuite", "sample_notice"]

HOSTILE = "north\r\nBcc: all@quillmere.example\r\n\r\n.\r\n\x00\x1b[2J\x7f\u2028\u202e\ud800<b>&\"' block"
"""A name that tries to end a header, a message, a line, a page and an encoding."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A message as the receiver got it.

    Args:
        key: by which the receiver knows a message again that comes twice (``Message-ID``, ``webhook-id``).
        recipient: whom it was for.
        text: what can be read in it.
    """

    key: str
    recipient: str
    text: str


class NotifierRig(Protocol):
    """A notifier and its receiver."""

    secrets: Sequence[str]
    """What must never show: passwords, keys, tokens."""

    @property
    def notifier(self) -> Notifier:
        """The notifier, built once. The suite calls `send` from its own thread."""
        ...

    def arrivals(self) -> Sequence[Arrival]:
        """All messages that reached the receiver, in order, also those whose confirmation was lost."""
        ...

    def lose(self) -> None:
        """Make the receiver unreachable."""
        ...

    def restore(self) -> None:
        """Bring it back, and return when a message can be delivered."""
        ...

    def lose_next_confirmation(self) -> None:
        """Make the receiver take the next message and be cut off before it can say so."""
        ...

    def refuse_next(self) -> None:
        """Make the receiver refuse the next message for ever."""
        ...


class NotifierSuite:
    """Tests for any notifier. Set ``kind`` and ``options``, and override ``rig``."""

    kind: ClassVar[AdapterKind[Any, Notifier]]
    options: ClassVar[Mapping[str, object]]
    """Valid options of a notifier whose receiver is not there."""

    @pytest.fixture
    def rig(self) -> Iterator[NotifierRig]:
        raise NotImplementedError("override the fixture `rig` with your notifier and its receiver")

    def test_options_refuse_a_key_they_do_not_know(self) -> None:
        assert self.kind.options.model_validate(self.options)
        with pytest.raises(ValidationError, match="no_such_key"):
            self.kind.options.model_validate({**self.options, "no_such_key": 1})

    def test_it_can_be_built_while_its_receiver_is_away(self) -> None:
        options = self.kind.options.model_validate(self.options)
        notifier = self.kind.build(options, Services("people", "Quillmere Orchard", FakeClock()))
        assert notifier.recipients

    def test_recipients_have_names_that_may_be_shown(self, rig: NotifierRig) -> None:
        recipients = rig.notifier.recipients
        assert recipients
        assert recipients == rig.notifier.recipients
        assert len(set(recipients)) == len(recipients)
        for recipient in recipients:
            assert recipient.strip()
            assert recipient.isprintable()
            check_no_secret(rig, recipient)

    def test_a_message_arrives_with_all_it_has_to_say(self, rig: NotifierRig) -> None:
        recipient = rig.notifier.recipients[0]
        rig.notifier.send(sample_notice(), recipient)
        (arrival,) = rig.arrivals()
        assert arrival.recipient == recipient
        for words in ("subject-word", "summary-word", "label-word", "value-word", "advice-word", "cell-word", "high"):
            assert words in arrival.text.lower()

    def test_lines_and_ways_to_answer_arrive_and_a_chart_holds_nothing_up(self, rig: NotifierRig) -> None:
        """A picture is nice to have; words are not: whoever draws no chart may leave it out."""
        rig.notifier.send(rich_notice(), rig.notifier.recipients[0])
        (arrival,) = rig.arrivals()
        for word in ("line-word", "do-word", "https://quillmere.example/answer/1"):
            assert word in arrival.text

    def test_each_recipient_gets_a_message_of_its_own(self, rig: NotifierRig) -> None:
        recipients = rig.notifier.recipients
        for n, recipient in enumerate(recipients):
            rig.notifier.send(sample_notice(f"n{n}"), recipient)
        assert [arrival.recipient for arrival in rig.arrivals()] == list(recipients)

    @pytest.mark.parametrize("kind", list(NoticeKind))
    @pytest.mark.parametrize("priority", list(Priority))
    def test_every_kind_and_priority_is_delivered(self, rig: NotifierRig, kind: NoticeKind, priority: Priority) -> None:
        rig.notifier.send(replace(sample_notice(), kind=kind, priority=priority), rig.notifier.recipients[0])
        assert len(rig.arrivals()) == 1

    def test_a_message_that_says_little_is_delivered(self, rig: NotifierRig) -> None:
        notice = Notice("n1", NoticeKind.TEST, 0, "Quillmere Orchard", "Test", "")
        rig.notifier.send(notice, rig.notifier.recipients[0])
        assert len(rig.arrivals()) == 1

    def test_two_messages_have_two_keys(self, rig: NotifierRig) -> None:
        for name in ("n1", "n2"):
            rig.notifier.send(sample_notice(name), rig.notifier.recipients[0])
        assert len({arrival.key for arrival in rig.arrivals()}) == 2

    def test_a_receiver_that_is_away_is_worth_another_attempt(self, rig: NotifierRig) -> None:
        rig.lose()
        with pytest.raises(DeliveryRetry):
            rig.notifier.send(sample_notice(), rig.notifier.recipients[0])
        rig.restore()
        rig.notifier.send(sample_notice(), rig.notifier.recipients[0])
        assert len(rig.arrivals()) == 1

    def test_a_message_that_comes_twice_keeps_its_key(self, rig: NotifierRig) -> None:
        rig.lose_next_confirmation()
        with pytest.raises(DeliveryRetry):
            rig.notifier.send(sample_notice(), rig.notifier.recipients[0])
        rig.notifier.send(sample_notice(), rig.notifier.recipients[0])
        first, second = rig.arrivals()
        assert first.key == second.key

    def test_what_is_refused_for_ever_says_so_and_harms_no_other(self, rig: NotifierRig) -> None:
        rig.refuse_next()
        with pytest.raises(DeliveryRefused):
            rig.notifier.send(sample_notice("n1"), rig.notifier.recipients[0])
        rig.notifier.send(sample_notice("n2"), rig.notifier.recipients[0])
        assert rig.arrivals()[-1].text

    def test_control_characters_in_names_reach_nobody_else(self, rig: NotifierRig) -> None:
        recipient = rig.notifier.recipients[0]
        rig.notifier.send(hostile_notice(), recipient)
        rig.notifier.send(sample_notice("n2"), recipient)
        hostile, plain = rig.arrivals()
        assert hostile.recipient == recipient
        assert "subject-word" in plain.text

    def test_a_very_long_message_is_delivered(self, rig: NotifierRig) -> None:
        rows = tuple((f"tensiometer {n}", "no signal since this morning") for n in range(1000))
        notice = replace(sample_notice(), subject="long " * 400, tables=(Table("All", ("name", "state"), rows),))
        rig.notifier.send(notice, rig.notifier.recipients[0])
        assert len(rig.arrivals()) == 1

    def test_neither_errors_nor_logs_show_a_secret(self, rig: NotifierRig, caplog: pytest.LogCaptureFixture) -> None:
        caplog.set_level(logging.DEBUG)
        rig.notifier.send(sample_notice("n1"), rig.notifier.recipients[0])
        rig.refuse_next()
        with pytest.raises(DeliveryRefused) as refused:
            rig.notifier.send(sample_notice("n2"), rig.notifier.recipients[0])
        rig.lose()
        with pytest.raises(DeliveryRetry) as retry:
            rig.notifier.send(sample_notice("n3"), rig.notifier.recipients[0])
        for error in (*causes(refused.value), *causes(retry.value)):
            check_no_secret(rig, f"{error} {error!r}")
        for record in caplog.records:
            if record.name.partition(".")[0] != "mail":  # the receiver of a rig may log what it likes
                check_no_secret(rig, record.getMessage())


def causes(error: BaseException | None) -> Iterator[BaseException]:
    """An error and all that a trace would print with it."""
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


def check_no_secret(rig: NotifierRig, text: str) -> None:
    assert not any(secret in text for secret in rig.secrets), "a secret is shown"


def sample_notice(notice_id: str = "n1") -> Notice:
    """A notice with something in every field."""
    return Notice(
        id=notice_id,
        kind=NoticeKind.RAISED,
        time_us=1_780_000_000_000_000,
        site="Quillmere Orchard",
        subject="subject-word: north block",
        summary="This is the summary-word.",
        facts=(("label-word", "value-word"),),
        advice=("Follow the advice-word.",),
        tables=(Table("title-word", ("column-word",), (("cell-word",),)),),
        priority=Priority.HIGH,
        thread="thread-1",
        data={"type": "irrigation.raised", "tension_kpa": 62.1},
    )


def rich_notice() -> Notice:
    """A notice with lines, a way to answer and a chart beside all else."""
    chart = Chart(
        "chart-word", "kPa", 1_780_000_000_000_000, 3_600_000_000, (Line("", (1.0, None, 3.0)),), alt="It rises."
    )
    return replace(
        sample_notice(),
        lines=(("What", "The line-word."), ("What to do", "The do-word.")),
        answers=(AnswerLink("answer-word", "https://quillmere.example/answer/1", "acknowledge"),),
        charts=(chart,),
    )


def hostile_notice() -> Notice:
    """A notice in which every text is hostile."""
    return Notice(
        id="n1",
        kind=NoticeKind.RAISED,
        time_us=1_780_000_000_000_000,
        site=HOSTILE,
        subject=HOSTILE,
        summary=HOSTILE,
        facts=((HOSTILE, HOSTILE),),
        advice=(HOSTILE,),
        tables=(Table(HOSTILE, (HOSTILE,), ((HOSTILE,),)),),
        priority=Priority.HIGH,
        thread=HOSTILE,
        data={"type": "irrigation.raised", "name": HOSTILE},
    )
