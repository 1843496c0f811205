"""Doing what a person asked for, within the engine's transaction."""

import sqlite3
from collections.abc import Callable

from parchd.app.messages import Ask
from parchd.app.requests import Answer, RecordService, Reprocess
from parchd.pipeline.setup import PipelineSetup
from parchd.store import services
from parchd.store.journal import Journal

END_OF_TIME_US = 2**62


def answer_request(
    connection: sqlite3.Connection,
    journal: Journal,
    setup: PipelineSetup,
    ask: Ask,
    pulse: Callable[[], None],
    now_us: int,
) -> Answer:
    """Do it, and give the last answer; progress is told on the way.

    Args:
        pulse: called now and then during long work.
    """
    request = ask.request
    unknown = _unknown(setup, request.tensiometers if isinstance(request, Reprocess) else (request.tensiometer,))
    if unknown:
        return Answer(state="failed", text=f"no tensiometer is called {unknown}; parchd check lists them all")

    def progress(part: float) -> None:
        pulse()
        ask.answer(Answer(state="working", part=part))

    if isinstance(request, Reprocess):
        return _reprocess(connection, journal, setup, request, progress)
    return _record(connection, journal, setup, request, progress, now_us)


def _unknown(setup: PipelineSetup, names: tuple[str, ...]) -> str:
    known = {tensiometer.place.tensiometer for tensiometer in setup.tensiometers}
    return ", ".join(sorted(set(names) - known))


def _reprocess(
    connection: sqlite3.Connection,
    journal: Journal,
    setup: PipelineSetup,
    request: Reprocess,
    progress: Callable[[float], None],
) -> Answer:
    from parchd.store.reprocess import reprocess  # brings NumPy, which the daemon does without otherwise

    channels = {t.place.tensiometer: t.channel for t in setup.tensiometers}
    known = services.services(connection, channels)
    span_us = (request.start_us, request.end_us)
    count = reprocess(connection, journal, setup, known, span_us, progress, request.tensiometers)
    return Answer(
        state="done", text=f"{count.rows} readings computed anew, {count.changed} came out different", part=1.0
    )


def _record(
    connection: sqlite3.Connection,
    journal: Journal,
    setup: PipelineSetup,
    request: RecordService,
    progress: Callable[[float], None],
    now_us: int,
) -> Answer:
    """Write a service down and mark the readings it touches; a new height of the water reaches back to the last one."""
    record = services.ServiceRecord(
        request.tensiometer, request.work, request.begin_us, request.end_us, request.by, request.note, request.left_m,
        request.found_m,
    )  # fmt: skip
    start_us = request.begin_us
    if request.left_m is not None:
        earlier = [r.begin_us for r in services.records(connection) if r.tensiometer == request.tensiometer]
        start_us = max((us for us in earlier if us < start_us), default=0)
    services.add(connection, record, now_us)
    anew = Reprocess(start_us=start_us, end_us=END_OF_TIME_US, tensiometers=(request.tensiometer,))
    answer = _reprocess(connection, journal, setup, anew, progress)
    return Answer(state="done", text=f"written down; {answer.text}", part=1.0)
