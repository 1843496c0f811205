"""kill -9 between every two steps of a message's way.

Who honours the key sees each message once. Who does not sees one twice only if the daemon died while the receiver had
it and that was not recorded: once more for each such death, and only the one message that a notifier has on its way.
"""

import signal
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from parchd.clock import US_PER_S, SystemClock
from parchd.testing.farm import farm, mail, webhook
from parchd.testing.killing import Step
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.receivers import HttpReceiver, MailSandbox

BEFORE_IT_IS_MADE = (Step.NOT_QUEUED, Step.QUEUED, Step.RELEASED, Step.MADE, Step.MADE_FOR_GOOD)
ON_ITS_WAY = (Step.IN_HAND, Step.SAID, Step.ANSWERED, Step.NOT_RECORDED, Step.RECORDED, Step.RECORDED_FOR_GOOD)
REACHES_THE_RECEIVER = (Step.SAID, Step.ANSWERED, Step.NOT_RECORDED, Step.RECORDED, Step.RECORDED_FOR_GOOD)


@dataclass(frozen=True, slots=True)
class Far:
    """The other side.

    Args:
        notifier: name of the notifier that leads there.
        table: its table of the configuration.
        keys: of all that came, in order, each as a receiver that honours it sees it.
    """

    notifier: str
    table: str
    keys: Callable[[], list[str]]


@contextmanager
def program() -> Iterator[Far]:
    with HttpReceiver() as receiver:
        yield Far("hook", webhook(receiver), lambda: [r.headers["webhook-id"] for r in receiver.requests])


@contextmanager
def person() -> Iterator[Far]:
    with MailSandbox() as sandbox:
        yield Far("people", mail(sandbox), lambda: [str(m.message["Message-ID"]) for m in sandbox.mails])


OtherSide = Callable[[], AbstractContextManager[Far]]


def history(folder: Path) -> str:
    """A source that reads a dry sample of ten minutes ago at each start: what is known already changes nothing."""
    second = SystemClock().now_us() // US_PER_S - 600
    (folder / "history.csv").write_text(f"time,channel,value,unit\n{second},c0,55,kPa\n")
    return f'[sources.field]\nkind = "replay"\npath = "{folder / "history.csv"}"\nspeed = 0\n'


def die_at(config: Path, step: Step, far: Far) -> int:
    """Run the daemon until it gets to a step and dies; return how many messages came to the receiver."""
    before = len(far.keys())
    with DaemonProcess(config, program=("parchd.testing.killing", step.value, far.notifier)) as daemon:
        assert daemon.wait(30.0) == -signal.SIGKILL, daemon.log
    if step in REACHES_THE_RECEIVER:
        assert wait_until(lambda: len(far.keys()) > before), step
    return len(far.keys()) - before


def outbox(config: Path) -> list[tuple[str, str]]:
    return query(config.with_name("parchd.db"), "SELECT notice_id, state FROM outbox WHERE kind = 'raised'")


@pytest.mark.parametrize("other_side", [program, person])
@pytest.mark.timeout(240)
def test_killed_at_every_step_a_message_arrives_and_is_the_same_each_time(
    tmp_path: Path, other_side: OtherSide
) -> None:
    config = tmp_path / "farm.toml"
    with other_side() as far:
        config.write_text(farm(history(tmp_path), far.table, tensiometers=1))
        for step in BEFORE_IT_IS_MADE:
            assert die_at(config, step, far) == 0, step
            assert len(outbox(config)) == (step is Step.MADE_FOR_GOOD), step
        for step in ON_ITS_WAY:
            assert die_at(config, step, far) == (step in REACHES_THE_RECEIVER), step
            ((_, state),) = outbox(config)
            assert state == ("sent" if step is Step.RECORDED_FOR_GOOD else "ready"), step
        with DaemonProcess(config) as daemon:
            daemon.wait_for("replay.end")
            assert daemon.stop() == 0
        keys = far.keys()
    deaths = len(REACHES_THE_RECEIVER)
    assert len(set(keys)) == 1, "who honours the key sees one message"
    assert len(keys) == deaths, "who does not sees one for each death on the way, and none after it was recorded"


@pytest.mark.parametrize("other_side", [program, person])
def test_killed_once_a_message_is_known_to_be_delivered_it_does_not_come_again(
    tmp_path: Path, other_side: OtherSide
) -> None:
    config = tmp_path / "farm.toml"
    with other_side() as far:
        config.write_text(farm(history(tmp_path), far.table, tensiometers=1))
        assert die_at(config, Step.KNOWN, far) == 1
        with DaemonProcess(config) as daemon:
            daemon.wait_for("replay.end")
            assert daemon.stop() == 0
        assert len(far.keys()) == 1
    assert [state for _, state in outbox(config)] == ["sent"]
