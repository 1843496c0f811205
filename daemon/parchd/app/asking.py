"""Doing what a person asked for, within the engine's transaction."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass

from parchd.app.diagnosing import Diagnosing
from parchd.app.requests import Answer, Dismiss, RecordService, Reprocess, Resend, WorkRequest
from parchd.diagnosis.words import WORDS
from parchd.pipeline.setup import PipelineSetup
from parchd.store import services
from parchd.store.journal import Journal
from parchd.store.outbox import Outbox

END_OF_TIME_US = 2**62


@dataclass(frozen=True, slots=True)
class Desk:
    """What is needed to do what people ask for; the journal's transaction is open."""

    connection: sqlite3.Connection
    journal: Journal
    setup: PipelineSetup
    diagnosing: Diagnosing


def answer_request(
    desk: Desk, request: WorkRequest, tell: Callable[[Answer], None], pulse: Callable[[], None], now_us: int
) -> Answer:
    """Do it, and give the last answer.

    Args:
        tell: is told of progress on the way.
        pulse: called now and then during long work.
    """
    if isinstance(request, Dismiss):
        return _dismiss(desk.diagnosing, request, now_us)
    if isinstance(request, Resend):
        return _resend(Outbox(desk.connection), request, now_us)
    unknown = _unknown(desk.setup, request.tensiometers if isinstance(request, Reprocess) else (request.tensiometer,))
    if unknown:
        return Answer(state="failed", text=f"no tensiometer is called {unknown}; parchd check lists them all")

    def progress(part: float) -> None:
        pulse()
        tell(Answer(state="working", part=part))

    if isinstance(request, Reprocess):
        return _reprocess(desk, request, progress)
    return _record(desk, request, progress, now_us)


def _dismiss(diagnosing: Diagnosing, request: Dismiss, now_us: int) -> Answer:
    if diagnosing.dismiss(request.finding, request.subject, request.by, request.because, now_us) is None:
        return Answer(state="failed", text=f"nothing called {request.finding} holds of {request.subject}")
    title = WORDS[request.finding].title
    return Answer(
        state="done", text=f"{request.subject}: {title} dismissed; the same evidence will not bring it back", part=1.0
    )


def _resend(outbox: Outbox, request: Resend, now_us: int) -> Answer:
    span_us, disabled = (request.start_us, request.end_us), outbox.disabled()
    lines = []
    for notifier in request.notifiers:
        count = outbox.again(notifier, span_us, now_us, undelivered=request.undelivered)
        lines.append(f"{notifier}: {count or 'no'} {'message goes' if count == 1 else 'messages go'} out again")
        if count and notifier in disabled:
            lines[-1] += f", but not before its table in the configuration changes: {disabled[notifier]}"
    return Answer(state="done", text="\n".join(lines), part=1.0)


def _unknown(setup: PipelineSetup, names: tuple[str, ...]) -> str:
    known = {tensiometer.place.tensiometer for tensiometer in setup.tensiometers}
    return ", ".join(sorted(set(names) - known))


def _reprocess(desk: Desk, request: Reprocess, progress: Callable[[float], None]) -> Answer:
    from parchd.store.reprocess import reprocess  # brings NumPy, which the daemon does without otherwise

    channels = {t.place.tensiometer: t.channel for t in desk.setup.tensiometers}
    known = services.services(desk.connection, channels)
    span_us = (request.start_us, request.end_us)
    count = reprocess(desk.connection, desk.journal, desk.setup, known, span_us, progress, request.tensiometers)
    return Answer(
        state="done", text=f"{count.rows} readings computed anew, {count.changed} came out different", part=1.0
    )


def _record(desk: Desk, request: RecordService, progress: Callable[[float], None], now_us: int) -> Answer:
    """Write a service down and mark the readings it touches; a new height of the water reaches back to the last one.

    What the diagnosis found before it is over.
    """
    record = services.ServiceRecord(
        request.tensiometer, request.work, request.begin_us, request.end_us, request.by, request.note, request.left_m,
        request.found_m,
    )  # fmt: skip
    start_us = request.begin_us
    if request.left_m is not None:
        earlier = [r.begin_us for r in services.records(desk.connection) if r.tensiometer == request.tensiometer]
        start_us = max((us for us in earlier if us < start_us), default=0)
    services.add(desk.connection, record, now_us)
    desk.diagnosing.serviced(request.tensiometer, request.end_us, now_us)
    anew = Reprocess(start_us=start_us, end_us=END_OF_TIME_US, tensiometers=(request.tensiometer,))
    answer = _reprocess(desk, anew, progress)
    return Answer(state="done", text=f"written down; {answer.text}", part=1.0)
