"""An engine with its thread and one courier, without the rest of a daemon; time may run faster than life."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from parchd.app.courier import Courier
from parchd.app.inbox import Inbox
from parchd.app.loop import EngineLoop
from parchd.app.messages import Post
from parchd.clock import ScaledClock
from parchd.contract import Notice, NoticeKind, Notifier
from parchd.testing.bench import Bench, engine_on
from parchd.testing.site import START_US, engine_setup_of, route

NOTICE = Notice("n", NoticeKind.TEST, START_US, "Quillmere Orchard", "Subject", "Summary")


class Office:
    """A running engine with one courier; the journal is a file.

    Args:
        speed: seconds of the engine in a real one.
    """

    def __init__(self, folder: Path, notifier: Notifier, speed: float) -> None:
        self.carries = notifier
        self.setup = engine_setup_of(routes=[route("mail", *notifier.recipients, max_per_hour=1000)])
        self.clock = ScaledClock(START_US, speed)
        self.inbox = Inbox(0.0, self.clock)
        self.database = folder / "journal.db"

    @contextmanager
    def open(self) -> Iterator[Bench]:
        """Run the engine and its thread."""
        with engine_on(self.database, self.setup, self.clock.now_us()) as bench:
            loop = EngineLoop(bench.engine, self.inbox, self.clock)
            loop.start()
            try:
                yield bench
            finally:
                assert loop.finish(10.0)

    @contextmanager
    def courier(self) -> Iterator[Courier]:
        courier = Courier("mail", self.carries, self.inbox, self.clock, self.database)
        courier.start()
        try:
            yield courier
        finally:
            courier.stop()
            assert courier.join(10.0)

    def post(self, *names: str) -> None:
        """Queue messages with these subjects for every recipient."""
        for name in names:
            self.inbox.tell(Post(replace(NOTICE, id=name, subject=name)))
