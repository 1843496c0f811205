"""What goes on while a connection lasts: one turn of the crank after another."""

import select

from parchd.clock import Clock
from parchd.contract import Intake, SampleBatch
from parchd_adapters.mqtt.commands import Commands
from parchd_adapters.mqtt.inbox import Inbox
from parchd_adapters.mqtt.link import Link
from parchd_adapters.mqtt.pace import Pace
from parchd_adapters.mqtt.receiver import Receiver
from parchd_adapters.mqtt.wake import Wake

_PACKETS_A_TURN = 250
_IDLE_MS = 100
_OFFER_S = 0.05
_BEAT_S = 1.0
_LAST_TURNS = 10
_LAST_TURN_S = 0.05


class Conversation:
    """Reads, hands over and acknowledges, in that order, again and again; all of it in the thread of the source."""

    def __init__(
        self,
        link: Link,
        inbox: Inbox,
        receiver: Receiver,
        commands: Commands,
        wake: Wake,
        intake: Intake,
        clock: Clock,
        gather_s: float,
    ) -> None:
        self._link = link
        self._inbox = inbox
        self._receiver = receiver
        self._commands = commands
        self._wake = wake
        self._intake = intake
        self._clock = clock
        self._pace = Pace(gather_s)
        self._answers = 0
        self._beat_s = float("-inf")
        self._behind = False

    def begin(self) -> None:
        """Take note of what the broker said about our session; call it once it accepted us."""
        if not self._link.resumed:
            self._receiver.backlog.is_over = True

    def turn(self) -> None:
        """Wait for something to do, at most 0.1 s, and do it.

        Raises:
            SourceLost: the connection has ended. Stopping: the daemon takes nothing more.
        """
        self._link.check()
        self._wait()
        if not self._inbox.is_full:
            self._read()
        self._link.write()
        self._hand_over()
        self._link.publish(self._commands.take_replies())
        self._acknowledge()
        self._beat()

    def end(self) -> None:
        """Read nothing more; acknowledge what is committed by now or within half a second. The rest comes again.

        Raises:
            SourceLost: the connection has ended.
        """
        for _ in range(_LAST_TURNS):
            self._wake.hush()
            self._link.publish(self._commands.take_replies())
            self._link.acknowledge(self._inbox.acknowledgeable())
            self._link.write()
            if not self._inbox.awaits_commit:
                return
            select.select([self._wake], [], [], _LAST_TURN_S)

    def _wait(self) -> None:
        poll = select.poll()
        poll.register(self._wake.fileno(), select.POLLIN)
        reading = 0 if self._inbox.is_full else select.POLLIN
        poll.register(self._link.fileno(), reading | (select.POLLOUT if self._link.wants_write else 0))
        hurry = self._behind or (self._link.has_more and reading)
        poll.poll(0 if hurry else _IDLE_MS)
        self._wake.hush()

    def _read(self) -> None:
        before = self._inbox.unacknowledged
        self._link.read(_PACKETS_A_TURN)
        if (count := self._inbox.unacknowledged - before) > 0:
            self._receiver.backlog.received(count, self._inbox.unacknowledged)
            self._pace.received(self._clock.monotonic_s())

    def _hand_over(self) -> None:
        now_s = self._clock.monotonic_s()
        urgent = not self._receiver.backlog.is_over or self._pace.is_urgent(self._inbox.unacknowledged)
        if self._inbox.has_gathered and (urgent or not self._inbox.may_wait or self._pace.is_time(now_s)):
            self._inbox.close()
            self._behind = not self._inbox.hand_over(self._offer, urgent=urgent)
            self._pace.handed_over(now_s)
        for reason, count, example in self._inbox.take_rejects():
            self._intake.rejected(reason, example, count)

    def _offer(self, batch: SampleBatch) -> bool:
        return self._intake.offer(batch, _OFFER_S)

    def _acknowledge(self) -> None:
        unacknowledged = self._inbox.unacknowledged
        mids = self._inbox.acknowledgeable()
        if mids:
            self._link.acknowledge(mids)
            self._pace.acknowledged(self._clock.monotonic_s(), unacknowledged)
        self._watch_backlog(moved=bool(mids) or unacknowledged == 0)

    def _watch_backlog(self, *, moved: bool) -> None:
        backlog = self._receiver.backlog
        if self._link.answers > self._answers:
            self._answers = self._link.answers
            backlog.answered()
        if moved and self._link.subscribed and backlog.wants_probe:
            self._link.probe()
            backlog.probed(self._inbox.unacknowledged)

    def _beat(self) -> None:
        now_s = self._clock.monotonic_s()
        if now_s - self._beat_s >= _BEAT_S:
            self._beat_s = now_s
            self._intake.beat()
