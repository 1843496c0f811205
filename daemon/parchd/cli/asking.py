"""Asking the daemon, or doing it ourselves when none runs."""

import sqlite3
import sys
from collections.abc import Iterator

from parchd.alarms.manners import manners
from parchd.app.alarming import Alarming
from parchd.app.asking import Desk, answer_request
from parchd.app.control import ask_daemon
from parchd.app.diagnosing import Diagnosing
from parchd.app.links import renew_links
from parchd.app.requests import AlarmRequest, Answer, AnyRequest, RecordService, RenewLinks, UseLink, WorkRequest
from parchd.app.setup import diagnosis_of
from parchd.cli.exits import Exit
from parchd.clock import SystemClock
from parchd.config import Loaded
from parchd.contract import ParchdError
from parchd.store.database import Lock, is_held, open_writer
from parchd.store.journal import Journal

BAR = 40


def carry_out(loaded: Loaded, request: AnyRequest) -> Exit:
    """Have a request done by the daemon that runs, or here; show progress and the answer."""
    here = not is_held(loaded.store.path)
    for answer in _here(loaded, request) if here else ask_daemon(loaded.store.path, request):
        if answer.state == "working":
            _show(answer.part)
        else:
            _show(None)
            print(answer.text, file=sys.stderr if answer.state == "failed" else sys.stdout)
    return Exit.OK if answer.state == "done" else Exit.FAILED


def _here(loaded: Loaded, request: AnyRequest) -> Iterator[Answer]:
    """Do it in this process: nobody else may write meanwhile."""
    if isinstance(request, AlarmRequest | UseLink):
        raise ParchdError("no daemon runs, and only it tells people of alarms; start it, then ask again")
    lock = Lock(loaded.store.path)
    connection = open_writer(loaded.store.path)
    try:
        journal = Journal(connection)
        with journal.transaction():
            answer = _done_here(loaded, connection, journal, request)
        yield answer
    finally:
        connection.close()
        lock.release()


def _done_here(
    loaded: Loaded, connection: sqlite3.Connection, journal: Journal, request: WorkRequest | RenewLinks
) -> Answer:
    """Do it within the transaction."""
    if isinstance(request, RenewLinks):
        return renew_links(connection, request)
    diagnosing = Diagnosing(connection, journal, diagnosis_of(loaded))
    diagnosing.load()
    desk = Desk(connection, journal, loaded.pipeline, diagnosing)
    now_us = SystemClock().now_us()
    answer = answer_request(desk, request, lambda answer: _show(answer.part), _nothing, now_us)
    diagnosing.save()
    if isinstance(request, RecordService) and answer.state == "done":
        alarming = Alarming(connection, manners(loaded.alarms))
        alarming.load()
        alarming.serviced(request.tensiometer, request.by, now_us)
    return answer


def _show(part: float | None) -> None:
    """Draw progress on a terminal; nothing elsewhere. ``None``: take it away."""
    if not sys.stderr.isatty():
        return
    bar = " " * (BAR + 8) if part is None else f"[{'#' * round(part * BAR):<{BAR}}] {part:4.0%}"
    print(f"\r{bar}", end="\r" if part is None else "", file=sys.stderr, flush=True)


def _nothing() -> None:
    """Nobody watches this process."""
