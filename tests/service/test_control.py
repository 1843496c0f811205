"""Commands that ask a running daemon, and do it themselves when none runs."""

import json
import socket
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from parchd.alarms.lifecycle import State
from parchd.app.control import ControlError, ControlServer, ask_daemon, socket_path
from parchd.app.messages import Ask
from parchd.app.requests import Acknowledge, Answer, Dismiss, RecordService, Reprocess, Shelve
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.kinds import FindingKind
from parchd.store.database import open_reader, open_writer
from parchd.store.findings import begin, open_findings
from parchd.store.standings import history, load_standings
from parchd.testing.commands import parchd
from parchd.testing.farm import farm, serial_source, webhook
from parchd.testing.line import PtyLine
from parchd.testing.process import DaemonProcess, query, wait_until
from parchd.testing.receivers import HttpReceiver

REQUEST = Reprocess(start_us=0, end_us=1)


@contextmanager
def serving(database: Path, *answers: Answer) -> Iterator[list[Ask]]:
    asked: list[Ask] = []

    def tell(ask: Ask) -> None:
        asked.append(ask)
        for answer in answers:
            ask.answer(answer)

    server = ControlServer(database, tell)
    server.start()
    try:
        yield asked
    finally:
        server.stop()


def test_a_request_reaches_the_engine_and_its_answers_come_back_in_order(tmp_path: Path) -> None:
    working, done = Answer(state="working", part=0.5), Answer(state="done", text="all of it", part=1.0)
    with serving(tmp_path / "journal.db", working, done) as asked:
        assert list(ask_daemon(tmp_path / "journal.db", REQUEST)) == [working, done]
        assert [ask.request for ask in asked] == [REQUEST]


def test_only_the_daemons_own_user_may_ask_and_nothing_is_left_behind(tmp_path: Path) -> None:
    path = socket_path(tmp_path / "journal.db")
    with serving(tmp_path / "journal.db"):
        assert path.stat().st_mode & 0o777 == 0o600
    assert not path.exists()


def test_a_long_path_is_no_obstacle(tmp_path: Path) -> None:
    folder = tmp_path / ("a-folder-with-a-long-name-" * 5)
    folder.mkdir()
    with serving(folder / "journal.db", Answer(state="done")):
        assert [answer.state for answer in ask_daemon(folder / "journal.db", REQUEST)] == ["done"]


def test_nobody_listening_is_told_in_words(tmp_path: Path) -> None:
    with pytest.raises(ControlError, match="does not answer"):
        list(ask_daemon(tmp_path / "journal.db", REQUEST))


@pytest.mark.parametrize("line", [b"nonsense\n", b"{}\n", b'{"ask":"reprocess","start_us":-1,"end_us":0}\n', b"\xff\n"])
def test_what_is_no_request_is_refused_and_the_next_one_served(tmp_path: Path, line: bytes) -> None:
    with serving(tmp_path / "journal.db", Answer(state="done")) as asked:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.connect(str(socket_path(tmp_path / "journal.db")))
            connection.sendall(line)
            with connection.makefile("rb") as answer:
                assert json.loads(answer.readline())["state"] == "failed"
        assert asked == []
        assert [a.state for a in ask_daemon(tmp_path / "journal.db", REQUEST)] == ["done"]


def test_a_real_daemon_writes_a_service_down_and_marks_what_comes(tmp_path: Path) -> None:
    config = tmp_path / "farm.toml"
    with PtyLine() as line:
        config.write_text(farm(serial_source(line.path, "c0"), tensiometers=1, source="bus1"))
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            service = RecordService(tensiometer="t0", work="refill", begin_us=0, end_us=2**61, by="Ines")
            answers = list(ask_daemon(tmp_path / "parchd.db", service))
            assert answers[-1].state == "done"
            assert answers[-1].text.startswith("written down")
            assert daemon.stop() == 0


def test_a_real_daemon_takes_a_dismissal_and_tells_that_the_alarm_cleared(tmp_path: Path) -> None:
    config, journal = tmp_path / "farm.toml", tmp_path / "parchd.db"
    with PtyLine() as line:
        config.write_text(farm(serial_source(line.path, "c0"), tensiometers=1, source="bus1"))
        with closing(open_writer(journal)) as connection:
            begin(connection, Finding(FindingKey(FindingKind.LOST_WATER, "tensiometer/t0"), 5, 6, 0.9), "thread", 7)
        with DaemonProcess(config) as daemon:
            daemon.wait_for("alarm.raised")
            daemon.wait_for("source.connected")
            dismiss = Dismiss(subject="t0", finding=FindingKind.LOST_WATER, because="it was dug out", by="Ines")
            assert [answer.state for answer in ask_daemon(journal, dismiss)] == ["done"]
            assert [answer.state for answer in ask_daemon(journal, dismiss)] == ["failed"]
            daemon.wait_for("alarm.cleared")
            assert daemon.stop() == 0
        with closing(open_reader(journal)) as connection:
            assert open_findings(connection) == {}
            ((ended, by, because),) = connection.execute('SELECT "end", by, because FROM finding')
    assert (ended, by, because) == ("dismissed", "Ines", "it was dug out")


def test_a_running_daemon_sends_messages_again_under_their_ids(
    tmp_path: Path, line: PtyLine, hooks: HttpReceiver
) -> None:
    config = tmp_path / "farm.toml"
    config.write_text(farm(serial_source(line.path, "c0"), webhook(hooks), tensiometers=1, source="bus1"))
    with DaemonProcess(config) as daemon:
        daemon.wait_for("source.connected")
        line.write(b"55\n")
        assert hooks.wait_for(lambda hooks: len(hooks.requests) == 1)
        assert wait_until(lambda: query(tmp_path / "parchd.db", "SELECT state FROM outbox") == [("sent",)])
        assert parchd("resend", config, "--since", "1h").out == "hook: 1 message goes out again\n"
        assert hooks.wait_for(lambda hooks: len(hooks.requests) == 2)
        assert daemon.stop() == 0
    first, second = hooks.requests
    assert first.headers["webhook-id"] == second.headers["webhook-id"]
    assert first.body == second.body
    assert len(hooks.deliveries) == 1


def test_a_real_daemon_shelves_an_alarm_and_still_knows_after_a_kill(tmp_path: Path) -> None:
    config, journal = tmp_path / "farm.toml", tmp_path / "parchd.db"
    with PtyLine() as line:
        config.write_text(farm(serial_source(line.path, "c0"), tensiometers=1, source="bus1"))
        with closing(open_writer(journal)) as connection:
            begin(connection, Finding(FindingKey(FindingKind.LOST_WATER, "tensiometer/t0"), 5, 6, 0.9), "thread", 7)
        with DaemonProcess(config) as daemon:
            daemon.wait_for("alarm.raised")
            daemon.wait_for("source.connected")
            shelve = Shelve(subject="t0", hours=4, why="cups are ordered", by="Ines")
            assert [answer.state for answer in ask_daemon(journal, shelve)] == ["done"]
            daemon.kill()
        with DaemonProcess(config) as daemon:
            daemon.wait_for("source.connected")
            acknowledged = list(ask_daemon(journal, Acknowledge(subject="t0", by="Bo")))
            assert "take it off the shelf first" in acknowledged[-1].text
            assert daemon.stop() == 0
        with closing(open_reader(journal)) as connection:
            (stands,) = load_standings(connection).values()
            assert [step.happening.value for step in history(connection)] == ["raised", "shelved"]
    assert (stands.state, stands.by, stands.why) == (State.SHELVED, "Ines", "cups are ordered")
