"""Pages served over real HTTP on loopback, with a real engine behind them that runs by a fake clock."""

import http.client
import json
import socket
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlencode

from parchd.alarms.events import AlarmKey
from parchd.alarms.links import Link, LinkAct, sign
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Standing
from parchd.app.engine import Engine
from parchd.app.messages import Ask, Message
from parchd.clock import US_PER_S
from parchd.config.loaded import WebSettings
from parchd.store.answered import set_link_key
from parchd.store.database import open_writer
from parchd.store.standings import load_standings
from parchd.testing.clock import FakeClock
from parchd.testing.site import DAY_US, MINUTE_US, START_US, batch, engine_setup_of, sample
from parchd.web.application import application
from parchd.web.server import WebServer
from parchd.web.site import Known, Reader, Site
from parchd.words import Voice

NORTH = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
TOKENS = {"plc": "f4c1a9d27b6e80355d9e1f60", "panel": "0f1e2d3c4b5a69788796a5b4"}
READERS = {
    "ines": Reader("Ines", Voice(time_zone="Europe/Berlin")),
    "jost": Reader("Jost", Voice(language="de", time_zone="Europe/Berlin")),
}
_KEY = bytes(range(32))


@dataclass(frozen=True, slots=True)
class Got:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    text: str

    @property
    def json(self) -> Any:
        return json.loads(self.text)


class ServedFarm:
    """Starts with an alarm in the north block; stops when the ``with`` block ends."""

    def __init__(self, folder: Path, tokens: Mapping[str, str] = TOKENS) -> None:
        self.clock = FakeClock(START_US)
        self.asked: list[Ask] = []
        self.answers = True
        """Whether the engine answers; else it only keeps what it is asked."""
        self.port = free_port()
        self.connection = open_writer(folder / "parchd.db")
        set_link_key(self.connection, _KEY)
        setup = engine_setup_of()
        self._engine = Engine(self.connection, setup, START_US)
        self._lock = threading.Lock()
        settings = WebSettings("127.0.0.1", self.port, tokens=tokens)
        known = Known(settings, setup.names, setup.alarms, self._reader)
        self.site = Site(folder / "parchd.db", self.tell, self.clock, known)
        self._server = WebServer(settings, application(self.site))

    def __enter__(self) -> Self:
        self._server.start()
        self.read(70.0)
        wait_until_open(self.port)
        return self

    def __exit__(self, *_: object) -> None:
        self._server.stop()
        assert self._server.join(10.0)
        self.connection.close()

    def tell(self, ask: Ask) -> None:
        """Do what the pages ask for, as the daemon's engine would."""
        self.asked.append(ask)
        if self.answers:
            self.turn(ask)

    def turn(self, message: Message) -> None:
        """Turn the engine once."""
        with self._lock:
            self._engine.turn([message], self.clock.now_us())

    def read(self, tension_kpa: float) -> None:
        """Let all of the north block read a tension, a minute later."""
        self.clock.advance(MINUTE_US / US_PER_S)
        now_us = self.clock.now_us()
        self.turn(batch(*(sample(f"n{depth}", now_us, tension_kpa) for depth in (20, 40, 60))))

    def standing(self, key: AlarmKey = NORTH) -> Standing:
        """How an alarm stands."""
        return load_standings(self.connection).get(key, Standing())

    def link(self, act: LinkAct, person: str = "ines", key: AlarmKey = NORTH, expires_us: int | None = None) -> str:
        """The path of a link about the alarm as it stands now."""
        raised_us = self.standing(key).raised_us
        assert raised_us is not None
        end_us = self.clock.now_us() + 7 * DAY_US if expires_us is None else expires_us
        return f"/a/{sign(Link(act, key, raised_us, person, end_us), _KEY)}"

    def get(self, path: str, method: str = "GET", **headers: str) -> Got:
        """Ask for a page; ``content_type`` stands for ``Content-Type``, and so on."""
        return self._request(method, path, None, headers)

    def post(self, path: str, **form: str) -> Got:
        """Send a form."""
        kind = {"content-type": "application/x-www-form-urlencoded"}
        return self._request("POST", path, urlencode(form).encode(), kind)

    def api(self, path: str, body: Any = None, token: str = TOKENS["plc"], **headers: str) -> Got:
        """Ask as a program, with JSON where there is a body."""
        sent = {"authorization": f"Bearer {token}", **headers}
        if body is None:
            return self._request("GET", f"/api/v1{path}", None, sent)
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        return self._request("POST", f"/api/v1{path}", data, {"content-type": "application/json", **sent})

    def _request(self, method: str, path: str, body: bytes | None, headers: Mapping[str, str]) -> Got:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=15.0)
        try:
            connection.request(method, path, body, {name.replace("_", "-"): text for name, text in headers.items()})
            answer = connection.getresponse()
            return Got(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read().decode())
        finally:
            connection.close()

    @staticmethod
    def _reader(key: str) -> Reader:
        return READERS.get(key, Reader(key, Voice(time_zone="Europe/Berlin")))


def free_port() -> int:
    """A port on loopback that nobody listens on now."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
        return port


def wait_until_open(port: int, timeout_s: float = 10.0) -> None:
    """Wait until somebody listens on a port of loopback.

    Raises:
        OSError: nobody does within the time.
    """
    from parchd.testing.process import wait_until

    assert wait_until(lambda: _is_open(port), timeout_s)


def _is_open(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), timeout=1.0).close()
    except OSError:
        return False
    return True
