"""The whole demo: as a command in a pseudo-terminal and in a pipe, and with the broker written in Python."""

import base64
import email
import email.policy
import hmac
import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from fcntl import ioctl
from pathlib import Path
from struct import pack

import psutil
import pytest
from standardwebhooks import Webhook

from parchd.cli.main import main
from parchd.config import load
from parchd.demo.broker import running_broker
from parchd.demo.farm import tensiometers
from parchd.demo.logs import logging_into
from parchd.demo.rig import Rig
from parchd.demo.wishes import Wishes
from parchd.store import reader
from parchd.store.database import open_reader

PARCHD = (sys.executable, "-m", "parchd")
EXPECTED_MAILS = (
    "Creek terrace: plan an irrigation",
    "Creek terrace: irrigate now",
    "Creek terrace: no more need to irrigate now",
    "Nursery: check the wiring of shed-60 (open circuit)",
    "North block: look at cable and supply of gate-60 (no data)",
    "North block: data arrives again (gate-60)",
    "Quillmere Orchard: 1 tensiometer needs a hand",
)


@dataclass
class Shown:
    """A demo in a pseudo-terminal, and all that it has shown."""

    process: subprocess.Popen[bytes]
    eye: int
    began_s: float
    seen: bytearray = field(default_factory=bytearray)

    def watch(self, until: Callable[["Shown"], bool], timeout_s: float) -> bool:
        """Read what comes until a condition holds; false when it ends, or takes too long."""
        deadline_s = time.monotonic() + timeout_s
        while not until(self) and time.monotonic() < deadline_s:
            if select.select([self.eye], [], [], 0.05)[0]:
                try:
                    self.seen += os.read(self.eye, 65_536)
                except OSError:  # the other end was closed
                    break
        return until(self)

    def children(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)


@contextmanager
def in_terminal(*arguments: str, temporary: Path, columns: int = 80, lines: int = 24) -> Iterator[Shown]:
    """Run ``parchd demo`` in a terminal of its own that sends Ctrl-C as terminals do."""
    eye, hand = pty.openpty()
    ioctl(eye, termios.TIOCSWINSZ, pack("HHHH", lines, columns, 0, 0))
    before = termios.tcgetattr(hand)
    environ = {**os.environ, "TERM": "xterm-256color", "TMPDIR": str(temporary)}
    process = subprocess.Popen(
        (sys.executable, "-c", _IN_TERMINAL, "demo", *arguments),
        stdin=hand, stdout=hand, stderr=hand, env=environ, start_new_session=True,
    )  # fmt: skip
    shown = Shown(process, eye, time.monotonic())
    try:
        yield shown
        assert termios.tcgetattr(hand) == before
    finally:
        os.close(hand)
        if process.poll() is None:
            process.kill()
        process.wait(10.0)
        os.close(eye)


# A session leader takes its standard input for its terminal; then Ctrl-C becomes a SIGINT.
_IN_TERMINAL = """\
import fcntl, sys, termios
fcntl.ioctl(0, termios.TIOCSCTTY, 0)
from parchd.cli.main import main
sys.exit(main(sys.argv[1:]))
"""


def ended(shown: Shown) -> bool:
    return shown.process.poll() is not None


def shows(text: str) -> Callable[[Shown], bool]:
    return lambda shown: text.encode() in shown.seen


def is_gone(process: psutil.Process) -> bool:
    return not process.is_running() or process.status() == psutil.STATUS_ZOMBIE


def subjects(folder: Path) -> list[str]:
    mails = (path.read_bytes() for path in sorted((folder / "mails").glob("*.eml")))
    return [str(email.message_from_bytes(mail, policy=email.policy.SMTP)["Subject"]) for mail in mails]


def check_mails(found: list[str]) -> None:
    for expected in EXPECTED_MAILS:
        assert any(subject.startswith(expected) for subject in found), (expected, found)


def check_webhooks(folder: Path) -> None:
    """Check each signature with the reference library and by hand (Standard Webhooks 1.0.0)."""
    secret = (folder / "webhook.secret").read_text().strip()
    posted = sorted((folder / "webhooks").glob("*.json"))
    assert len(posted) >= 6
    for path in posted:
        body = path.read_text()
        lines = (line.split(": ", 1) for line in path.with_suffix(".headers").read_text().splitlines())
        headers = dict(lines)
        number, stamp = headers["webhook-id"], headers["webhook-timestamp"]
        signed = Webhook(secret).sign(number, datetime.fromtimestamp(int(stamp), UTC), body)
        digest = hmac.digest(base64.b64decode(secret[6:]), f"{number}.{stamp}.{body}".encode(), "sha256")
        assert headers["webhook-signature"] == signed == "v1," + base64.b64encode(digest).decode()
        assert json.loads(body)["type"] in ("alarm.raised", "alarm.cleared")


def check_journal(folder: Path) -> None:
    loaded = load(folder / "demo.toml", {}, None)
    connection = open_reader(loaded.store.path)
    try:
        newest = reader.latest(connection)
    finally:
        connection.close()
    assert {t.channel for t in loaded.pipeline.tensiometers} <= newest.keys()
    assert len(newest) == len(list(tensiometers())) + 1  # the supply of the north block


@pytest.mark.needs("mosquitto")
def test_in_a_terminal_the_story_is_drawn_told_kept_and_the_terminal_given_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, temporary = tmp_path / "kept", tmp_path / "temporary"
    temporary.mkdir()
    arguments = ("--speed", "240", "--seconds", "21", "--keep", str(folder))
    with in_terminal(*arguments, temporary=temporary) as shown:
        assert shown.watch(shows("reads well"), 15.0), bytes(shown.seen)
        children = shown.children()
        assert shown.watch(ended, 60.0)
        shown.watch(lambda _: False, 0.2)
    text = shown.seen.decode()
    assert shown.process.returncode == 0, text
    for words in ("irrigate now", "open circuit", "silent", "creek terrace: the grower opens the valve", "█", "Ctrl-C"):
        assert words in text
    before, _, after = text.partition("\x1b[?1049l")
    assert "\x1b[?25l" in before
    assert before.endswith("\x1b[?25h")
    assert "stopped cleanly" in after
    assert "Subject: Creek terrace: irrigate now" in after
    assert "Traceback" not in text
    check_mails(subjects(folder))
    check_webhooks(folder)
    check_journal(folder)
    assert all(map(is_gone, children))
    assert list(temporary.iterdir()) == []
    assert not (folder / "north-board").is_symlink()
    check_commands(folder, capsys)


def check_commands(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Check that the commands which the demo names at its end work on what it kept."""
    config = str(folder / "demo.toml")
    assert main(["check", config]) == 0
    assert main(["alarms", config, "--since", "2026-05-12"]) == 0
    assert main(["readings", config, "--since", "2026-05-12", "-t", "shed-60"]) == 0
    main(["status", config])
    text = capsys.readouterr().out
    assert "Creek terrace: irrigate now" in text
    assert "open circuit" in text
    assert "bridge-30 (30 cm)" in text


@pytest.mark.needs("mosquitto")
@pytest.mark.parametrize("ending", ["Ctrl-C", "SIGTERM"])
def test_it_ends_at_once_and_leaves_nothing_when_asked_to(ending: str, tmp_path: Path) -> None:
    with in_terminal(temporary=tmp_path) as shown:
        assert shown.watch(shows("reads well"), 15.0), bytes(shown.seen)
        children, asked_s = shown.children(), time.monotonic()
        os.write(shown.eye, b"\x03") if ending == "Ctrl-C" else shown.process.send_signal(signal.SIGTERM)
        assert shown.watch(ended, 5.0), ending
        assert time.monotonic() - asked_s < 5.0
        shown.watch(shows("stopped cleanly"), 1.0)
    assert shown.process.returncode == 0
    assert b"stopped cleanly" in shown.seen
    assert b"Traceback" not in shown.seen
    assert children
    assert all(map(is_gone, children))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.needs("mosquitto")
def test_in_a_pipe_it_tells_lines_and_tables_until_a_signal(tmp_path: Path) -> None:
    environ = {**os.environ, "PYTHONIOENCODING": "ascii", "TMPDIR": str(tmp_path)}
    command = (*PARCHD, "demo", "--speed", "480")
    with subprocess.Popen(
        command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env=environ, text=True
    ) as process:
        assert process.stdout is not None
        lines = []
        for line in process.stdout:
            lines.append(line)
            if line.startswith("05:") and "Creek terrace: irrigate now" in line:
                process.send_signal(signal.SIGINT)
                break
        rest = process.stdout.read()
        assert process.wait(5.0) == 0, rest
    text = "".join(lines)
    assert "Real: daemon, configuration, serial line, MQTT (Mosquitto), mails, webhooks." in text
    assert "webhook  alarm.raised irrigate-plan zone/creek-terrace  (signature is right)" in text
    assert "\x1b" not in text + rest
    assert "stopped cleanly" in rest
    assert list(tmp_path.iterdir()) == []


def test_without_mosquitto_a_broker_in_python_carries_the_same_messages(tmp_path: Path) -> None:
    wishes = Wishes(speed=480.0)
    with (
        logging_into(tmp_path),
        running_broker(in_python=True) as broker,
        Rig(wishes, tmp_path, broker) as rig,
    ):
        wanted, deadline_s = "Creek terrace: irrigate now", time.monotonic() + 30.0
        while not any(news.text.startswith(wanted) for news in rig.desk.after(0)) and time.monotonic() < deadline_s:
            time.sleep(0.05)
    assert broker.name == "amqtt"
    assert rig.clean
    assert any(subject.startswith(wanted) for subject in subjects(tmp_path))
    check_journal(tmp_path)
    assert "amqtt" not in (tmp_path / "daemon.log").read_text()


def test_without_the_extra_a_kind_sentence_says_how_to_install_it(tmp_path: Path) -> None:
    block = "import sys; sys.modules['aiosmtpd'] = None; from parchd.cli.main import main; sys.exit(main(['demo']))"
    environ = {**os.environ, "TMPDIR": str(tmp_path)}
    done = subprocess.run(
        (sys.executable, "-c", block), env=environ, capture_output=True, text=True, check=False, timeout=30.0
    )
    assert done.returncode == 1
    assert "pip install 'parchd[demo]'" in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_empty_and_a_speed_that_is_odd_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine").touch()
    handlers = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)}
    try:
        assert main(["demo", "--keep", str(tmp_path)]) == 1
        assert main(["demo", "--speed", "0"]) == 1
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    errors = capsys.readouterr().err
    assert "there is something in this folder already" in errors
    assert "--speed is 1 to 600" in errors
