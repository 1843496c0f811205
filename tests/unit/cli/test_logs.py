import logging
import sys

import pytest

from parchd.cli.logs import EventFormatter, configure_logs


def record(**extra: str) -> logging.LogRecord:
    made = logging.LogRecord("parchd.app", logging.WARNING, __file__, 1, "source %s: lost", ("bus1",), None)
    vars(made).update(extra)
    return made


def test_a_line_ends_with_the_name_of_its_event() -> None:
    form = EventFormatter("%(levelname)s %(message)s")
    assert form.format(record(event="source.lost")) == "WARNING source bus1: lost [source.lost]"
    assert form.format(record()) == "WARNING source bus1: lost"


def test_a_trace_follows_its_line() -> None:
    made = record(event="source.failed")
    try:
        int("broken")
    except ValueError:
        made.exc_info = sys.exc_info()
    first, *_, last = EventFormatter("%(message)s").format(made).splitlines()
    assert (first, last) == (
        "source bus1: lost [source.failed]",
        "ValueError: invalid literal for int() with base 10: 'broken'",
    )


def test_times_stand_where_no_journal_adds_them(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(logging.getLogger(), "handlers", [])  # as at the start of a process
    monkeypatch.delenv("JOURNAL_STREAM", raising=False)
    configure_logs(verbose=False)
    logging.getLogger("parchd.app").info("here", extra={"event": "a.b"})
    assert capsys.readouterr().err[:2] == "20"
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    monkeypatch.setenv("JOURNAL_STREAM", "8:1234")
    configure_logs(verbose=False)
    logging.getLogger("parchd.app").info("here", extra={"event": "a.b"})
    assert capsys.readouterr().err == "INFO here [a.b]\n"


@pytest.mark.parametrize(("verbose", "lines"), [(False, 0), (True, 2)])
def test_small_things_are_told_when_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, verbose: bool, lines: int
) -> None:
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    configure_logs(verbose=verbose)
    for name in ("parchd.app", "parchd_adapters.mqtt", "urllib3", "apscheduler.scheduler"):
        logging.getLogger(name).debug("small")
    logging.getLogger("apscheduler.scheduler").info("added a job")
    assert len(capsys.readouterr().err.splitlines()) == lines
