"""What is shown where there is no terminal, and with which letters where there is one."""

import io
import os
import signal
from collections.abc import Iterator

import pytest

from parchd.cli.desk import Desk, ended_by_signals, letters_for
from parchd.testing.clock import FakeClock
from parchd.workbench.chart import Chart, Look, Series, Span
from parchd.workbench.chart_text import ASCII, BRAILLE

CHART = Chart("n1", "s", "kPa", Span(0.0, 10.0), Span(0.0, 10.0), (Series(Look.LINE, ((0.0, 0.0), (9.0, 9.0))),))


@pytest.mark.parametrize(
    ("encoding", "term", "letters"),
    [
        ("utf-8", "xterm", BRAILLE),
        ("UTF8", "tmux-256color", BRAILLE),
        ("utf-8", "linux", ASCII),
        ("ascii", "xterm", ASCII),
    ],
)
def test_braille_is_drawn_where_it_can_be_shown(encoding: str, term: str, letters: object) -> None:
    out = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    assert letters_for(out, {"TERM": term}) is letters


def test_without_a_terminal_the_status_is_printed_every_ten_seconds(capsys: pytest.CaptureFixture[str]) -> None:
    clock = FakeClock()
    desk = Desk(clock, {}, ascii_only=True)
    for second in range(25):
        desk.draw(CHART, f"{second} s", "hint")
        clock.advance(1.0)
    assert capsys.readouterr().out.split("\n") == ["0 s", "10 s", "20 s", ""]
    desk.draw(CHART, "25 s", "", last=True)
    shown = capsys.readouterr().out
    assert "*" in shown
    assert "\x1b" not in shown


def test_a_line_that_changes_is_printed_now_and_then(capsys: pytest.CaptureFixture[str]) -> None:
    clock = FakeClock()
    desk = Desk(clock, {})
    for second in range(12):
        desk.update(f"{second}")
        clock.advance(1.0)
    desk.clear_line()
    assert capsys.readouterr().out == "0\n10\n"


def test_paragraphs_are_wrapped_and_indented(capsys: pytest.CaptureFixture[str]) -> None:
    Desk(FakeClock(), {}).say("CAUTION: " + "word " * 30, indent="  ")
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert all(line.startswith("  word") for line in lines[1:])


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """Where a test types; the desk reads it as its standard input."""
    hand, eye = os.pipe()
    before = os.dup(0)
    os.dup2(hand, 0)
    os.close(hand)
    try:
        yield eye
    finally:
        os.dup2(before, 0)
        os.close(before)


def test_lines_come_one_by_one_and_then_none(typed: int) -> None:
    desk = Desk(FakeClock(), {})
    assert desk.line(0.0) is None
    os.write(typed, b" 20 \nun")
    assert desk.line(0.0) == "20"
    assert desk.line(0.0) is None, "a line that is not finished waits"
    os.write(typed, b"do\n\xff\n")
    assert [desk.line(0.0), desk.line(0.0)] == ["undo", "\ufffd"]
    os.close(typed)
    assert desk.line(None) is None


def test_a_question_goes_to_standard_error(typed: int, capsys: pytest.CaptureFixture[str]) -> None:
    os.write(typed, b"y\n")
    os.close(typed)
    desk = Desk(FakeClock(), {})
    assert desk.ask("Well? ") == "y"
    assert desk.ask("And now? ") is None
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "Well? And now? \n")


def test_sigterm_ends_a_command_as_ctrl_c_does_and_only_while_it_runs() -> None:
    before = signal.getsignal(signal.SIGTERM)
    with pytest.raises(KeyboardInterrupt), ended_by_signals():
        os.kill(os.getpid(), signal.SIGTERM)
    assert signal.getsignal(signal.SIGTERM) is before
