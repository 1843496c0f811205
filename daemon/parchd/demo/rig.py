"""Everything that runs in the demo: the daemon, what it talks to, and the boards that feed it."""

from contextlib import ExitStack
from pathlib import Path
from typing import Self
from zoneinfo import ZoneInfo

from parchd.app.daemon import Daemon
from parchd.clock import ScaledClock, to_datetime
from parchd.config import load
from parchd.demo.boards import Boards
from parchd.demo.broker import Broker
from parchd.demo.configuration import Places, write_configuration
from parchd.demo.farm import TIME_ZONE
from parchd.demo.logs import Connections, heard
from parchd.demo.news import NewsDesk
from parchd.demo.sandbox import Sandbox
from parchd.demo.script import START_US
from parchd.demo.wishes import Wishes
from parchd.testing.line import PtyLine

DEVICE = "north-board"
CONNECT_S = 2.0
STOP_S = 3.0


class Rig:
    """Starts receivers, daemon and boards in this order, and stops them the other way round.

    The boards are switched on when both sources are connected, so that no first sample is lost.

    Args:
        folder: exists, and holds no demo yet.
    """

    def __init__(self, wishes: Wishes, folder: Path, broker: Broker) -> None:
        zone = ZoneInfo(TIME_ZONE)
        self.clock = ScaledClock(START_US, wishes.speed)
        self.desk = NewsDesk(self.clock, lambda time_us: to_datetime(time_us).astimezone(zone).strftime("%H:%M"))
        self.sandbox = Sandbox(folder, self.desk)
        self.clean = False
        self._broker = broker
        self._line = PtyLine(folder / DEVICE)
        self._stack = ExitStack()
        self._stack.enter_context(self._line)
        try:
            self._stack.enter_context(self.sandbox)
            places = Places(self._line.path, broker.port, self.sandbox.mail_port, self.sandbox.webhook_url)
            self.loaded = load(write_configuration(folder, places), {}, None)
            self.daemon = Daemon(self.loaded, self.clock, tick_s=wishes.tick_s)
        except BaseException:
            self._stack.close()
            raise

    def __enter__(self) -> Self:
        with self._stack, heard(Connections(len(self.loaded.sources))) as connections:
            self._stack.callback(self._stop_daemon)
            self.daemon.start()
            connections.ready.wait(CONNECT_S)
            self._stack.enter_context(Boards(self._line, (self._broker.host, self._broker.port), self.clock))
            self._stack = self._stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._stack.close()

    def _stop_daemon(self) -> None:
        self.clean = self.daemon.stop(STOP_S)
