"""The server of the pages: slow, many and strange clients hold up nobody; a taken port is tried again."""

import http.client
import json
import logging
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from parchd.alarms.links import Link, LinkAct, sign
from parchd.config.loaded import WebSettings
from parchd.store.answered import link_key
from parchd.store.database import open_reader
from parchd.store.standings import load_standings
from parchd.testing.broker import Mosquitto
from parchd.testing.farm import farm, mail, mqtt_source
from parchd.testing.mail_sandbox import MailSandbox
from parchd.testing.pages import NORTH, ServedFarm, free_port, wait_until_open
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.publisher import Publisher
from parchd.web.server import WebServer

TOKEN = "f4c1a9d27b6e80355d9e1f60"
SILENT = '[sources.field]\nkind = "serial-lines"\nport = "/dev/null"\nfields = ["c0"]\nunit = "kPa"\n'


@pytest.fixture
def site(tmp_path: Path) -> Iterator[ServedFarm]:
    with ServedFarm(tmp_path) as served:
        yield served


def opened(site: ServedFarm) -> socket.socket:
    return socket.create_connection(("127.0.0.1", site.port), timeout=10.0)


def is_cut_off(connection: socket.socket) -> bool:
    try:
        return connection.recv(1000) == b""
    except ConnectionError:
        return True


@pytest.mark.parametrize("sent", [b"", b"GET /a/x HTTP/1.1\r\nHost: x\r\nX-Slow: ", b"POST /a/x HTTP/1.1\r\n"])
def test_who_says_nothing_more_is_cut_off_in_time(
    site: ServedFarm, monkeypatch: pytest.MonkeyPatch, sent: bytes
) -> None:
    monkeypatch.setattr("parchd.web.listening.LONGEST_S", 0.3)
    with closing(opened(site)) as slow:
        slow.sendall(sent)
        assert is_cut_off(slow)


def test_a_body_that_never_ends_is_cut_off_and_nothing_is_done(
    site: ServedFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("parchd.web.listening.LONGEST_S", 0.5)
    path = site.link(LinkAct.ACKNOWLEDGE)
    with closing(opened(site)) as slow:
        slow.sendall(f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Length: 100\r\n\r\nhours=".encode())
        assert is_cut_off(slow)
    assert site.asked == []
    assert site.standing().acknowledged_us is None


def test_many_silent_connections_keep_nobody_else_from_the_page_for_long(
    site: ServedFarm, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("parchd.web.listening.MOST_CONNECTIONS", 5)
    monkeypatch.setattr("parchd.web.listening.LONGEST_S", 0.5)
    with ExitStack() as stack:
        held = [stack.enter_context(closing(opened(site))) for _ in range(5)]
        with closing(opened(site)) as sixth:
            began = time.monotonic()
            sixth.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            assert is_cut_off(sixth), "hung up on at once: no more file descriptors are given away"
            assert time.monotonic() - began < 0.4
        assert all(is_cut_off(one) for one in held)
    assert site.get("/nonsense").status == 404


@pytest.mark.parametrize(
    "sent",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 10_000 + b"\r\n",
        b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\n\r\n",
        b"\r\n\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n",
        b"GET /%ff%00%0d%0aX HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n",
    ],
    ids=["tls", "headers", "path", "blank", "lengths", "bytes"],
)
def test_what_is_no_http_ends_the_connection_and_nothing_else(site: ServedFarm, sent: bytes) -> None:
    with closing(opened(site)) as strange:
        try:
            strange.sendall(sent)
            strange.shutdown(socket.SHUT_WR)
            while strange.recv(65536):
                pass
        except ConnectionError:
            pass
    assert site.get("/nonsense").status == 404


def test_a_small_answer_does_not_wait_for_more(site: ServedFarm) -> None:
    """Without TCP_NODELAY each answer would take 40 ms."""
    connection = http.client.HTTPConnection("127.0.0.1", site.port, timeout=10.0)
    with closing(connection):
        took = []
        for _ in range(5):
            began = time.monotonic()
            connection.request("GET", "/api/v1/openapi.json")
            connection.getresponse().read()
            took.append(time.monotonic() - began)
    assert min(took) < 0.03


def who_asks(proxies: tuple[str, ...]) -> str:
    """The address that a page sees when its visitor says to come from elsewhere."""

    async def who(request: Request) -> PlainTextResponse:
        return PlainTextResponse(request.client.host if request.client else "")

    port = free_port()
    server = WebServer(WebSettings("127.0.0.1", port, proxies=proxies), Starlette(routes=[Route("/", who)]))
    server.start()
    try:
        wait_until_open(port)
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10.0)
        with closing(connection):
            connection.request("GET", "/", headers={"X-Forwarded-For": "192.0.2.7"})
            return connection.getresponse().read().decode()
    finally:
        server.stop()
        assert server.join(10.0)


def test_only_a_proxy_that_is_configured_is_believed_about_who_asks() -> None:
    assert who_asks(()) == "127.0.0.1"
    assert who_asks(("10.0.0.1",)) == "127.0.0.1"
    assert who_asks(("127.0.0.1",)) == "192.0.2.7"


def test_a_port_that_is_taken_is_tried_again_until_it_is_free(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr("parchd.web.server.FIRST_PAUSE_S", 0.1)
    caplog.set_level(logging.INFO)
    with socket.create_server(("127.0.0.1", 0)) as other:
        server = WebServer(WebSettings("127.0.0.1", other.getsockname()[1]), Starlette())
        server.start()
        assert wait_until(lambda: "web.unavailable" in events(caplog))
        assert "web.listening" not in events(caplog)
    assert wait_until(lambda: "web.listening" in events(caplog))
    server.stop()
    assert server.join(5.0)


def test_a_stop_while_the_port_is_taken_is_quick() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        server = WebServer(WebSettings("127.0.0.1", other.getsockname()[1]), Starlette())
        server.start()
        began = time.monotonic()
        server.stop()
        assert server.join(5.0)
        assert time.monotonic() - began < 1.0


def test_a_stop_waits_for_no_client(site: ServedFarm) -> None:
    site.answers = False
    with closing(opened(site)) as idle, closing(opened(site)) as busy:
        idle.sendall(b"GET / HT")
        path = site.link(LinkAct.ACKNOWLEDGE)
        busy.sendall(f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n".encode())
        assert wait_until(lambda: bool(site.asked))
        began = time.monotonic()
        site._server.stop()
        assert site._server.join(5.0)
        assert time.monotonic() - began < 3.0


def events(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [getattr(record, "event", "") for record in caplog.records]


# --- with the whole daemon


def with_pages(folder: Path, port: int, broker: Mosquitto) -> Path:
    token = folder / "token"
    token.write_text(TOKEN)
    token.chmod(0o600)
    pages = f'[web]\nlisten = "127.0.0.1:{port}"\n\n[web.tokens.plc]\ntoken_file = "token"\n'
    config = folder / "farm.toml"
    config.write_text(farm(mqtt_source(broker.port), pages, tensiometers=1))
    return config


def raise_alarm(broker: Mosquitto) -> None:
    with Publisher(broker.host, broker.port) as publisher:
        publisher.publish([("farm/c0", json.dumps({"t": time.time(), "v": 60.0}).encode())])


def link_of(journal: Path) -> str:
    assert wait_until(lambda: bool(query(journal, "SELECT * FROM alarm_standing"))), "it is logged before it is on disk"
    with closing(open_reader(journal)) as connection:
        key, one = link_key(connection), load_standings(connection)[NORTH]
        assert key is not None
        assert one.raised_us is not None
        link = Link(LinkAct.ACKNOWLEDGE, NORTH, one.raised_us, "ines", round(time.time() + 600) * 10**6)
        return f"/a/{sign(link, key)}"


def fetched(port: int, method: str, path: str, body: str | None = None, **headers: str) -> tuple[int, str]:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10.0)) as connection:
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        return answer.status, answer.read().decode()


@pytest.mark.needs("mosquitto")
def test_a_daemon_serves_its_pages_and_does_what_their_buttons_say(tmp_path: Path) -> None:
    port, journal = free_port(), tmp_path / "parchd.db"
    with Mosquitto(tmp_path / "broker") as broker, DaemonProcess(with_pages(tmp_path, port, broker)) as daemon:
        daemon.wait_for("source.connected")
        daemon.wait_for("web.listening")
        raise_alarm(broker)
        daemon.wait_for("alarm.raised")
        path = link_of(journal)
        assert fetched(port, "GET", path)[0] == 200
        status, text = fetched(port, "GET", "/api/v1/alarms", authorization=f"Bearer {TOKEN}")
        assert json.loads(text)["alarms"][0]["state"] == "unacknowledged"
        status, text = fetched(port, "POST", path, "")
        assert (status, "Acknowledged" in text) == (200, True)
        daemon.wait_for("alarm.acknowledged")
        assert fetched(port, "POST", path, "")[0] == 410
        assert fetched(port, "GET", "/api/v1/alarms", authorization="Bearer nonsense")[0] == 401
        assert query(journal, "SELECT by, via FROM alarm_transition WHERE happening = 'acknowledged'") == [
            ("ines", "link")
        ]
        assert daemon.stop() == 0
        for secret in (TOKEN, "nonsense", path.removeprefix("/a/")):
            assert secret not in daemon.log, "what gives a right stands in no log"


@pytest.mark.needs("mosquitto")
def test_the_links_of_a_mail_are_looked_at_by_a_scanner_and_used_by_a_person(tmp_path: Path) -> None:
    port, journal, config = free_port(), tmp_path / "parchd.db", tmp_path / "farm.toml"
    pages = f'[web]\nlisten = "127.0.0.1:{port}"\npublic_url = "http://127.0.0.1:{port}"\n'
    with Mosquitto(tmp_path / "broker") as broker, MailSandbox() as mails:
        config.write_text(farm(mqtt_source(broker.port), mail(mails), pages, tensiometers=1))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            daemon.wait_for("web.listening")
            raise_alarm(broker)
            daemon.wait_for("message.sent")
            (received,) = mails.received
            links = re.findall(rf"http://127\.0\.0\.1:{port}(/a/[\w-]+)", received.plain)
            assert len(links) == 2
            for path in links:
                assert path in received.html
                assert fetched(port, "HEAD", path)[0] == fetched(port, "GET", path)[0] == 200
            assert query(journal, "SELECT state FROM alarm_standing") == [("unacknowledged",)]
            assert "Thank you, anne@quillmere.example." in fetched(port, "POST", links[0], "")[1]
            steps = query(journal, "SELECT by, via FROM alarm_transition WHERE happening = 'acknowledged'")
            assert steps == [("people/anne@quillmere.example", "link")]
            assert daemon.stop() == 0


@pytest.mark.needs("mosquitto")
def test_a_key_is_made_once_and_links_outlive_a_restart(tmp_path: Path) -> None:
    port, journal = free_port(), tmp_path / "parchd.db"
    with Mosquitto(tmp_path / "broker") as broker, DaemonProcess(with_pages(tmp_path, port, broker)) as daemon:
        daemon.wait_for("source.connected")
        raise_alarm(broker)
        daemon.wait_for("alarm.raised")
        path = link_of(journal)
        daemon.kill()
        daemon.start()
        daemon.wait_for("web.listening")
        assert fetched(port, "GET", path)[0] == 200
        assert daemon.stop() == 0


@pytest.mark.needs("mosquitto")
def test_pages_come_go_and_move_with_the_configuration(tmp_path: Path) -> None:
    first, second = free_port(), free_port()
    with Mosquitto(tmp_path / "broker") as broker:
        config = with_pages(tmp_path, first, broker)
        with DaemonProcess(config) as daemon:
            daemon.wait_for("web.listening")
            config.write_text(config.read_text().replace("north block", "upper block"))
            daemon.hang_up()
            daemon.wait_for("daemon.reloaded")
            assert daemon.events.count("web.listening") == 1, "nothing of it changed: connections go on"
            config.write_text(config.read_text().replace(str(first), str(second)))
            daemon.hang_up()
            daemon.wait_for("web.listening", times=2)
            assert fetched(second, "GET", "/api/v1/openapi.json")[0] == 200
            with pytest.raises(ConnectionRefusedError):
                fetched(first, "GET", "/")
            config.write_text(farm(mqtt_source(broker.port), tensiometers=1))
            daemon.hang_up()
            daemon.wait_for("daemon.reloaded", times=3)
            with pytest.raises(ConnectionRefusedError):
                fetched(second, "GET", "/")
            assert daemon.stop() == 0


RUN = """
import signal, sys, threading
from pathlib import Path
from parchd.cli import run
from parchd.cli.main import main

threading.Timer(1.5, signal.raise_signal, (signal.SIGTERM,)).start()
code = main(["run", sys.argv[1]])
print(code, *sorted({"uvicorn", "starlette", "h11", "anyio", "parchd.web"} & set(sys.modules)))
"""


def loaded_by(config: Path) -> str:
    command = (sys.executable, "-c", RUN, str(config))
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    return done.stdout.strip() or done.stderr


def test_without_pages_no_web_server_is_loaded(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    config.write_text(farm(tensiometers=1, source="none").replace("none/c0", "field/c0") + SILENT)
    assert loaded_by(config) == "0"
    config.write_text(config.read_text() + f'[web]\nlisten = "127.0.0.1:{free_port()}"\n')
    assert loaded_by(config) == "0 anyio h11 parchd.web starlette uvicorn"
