"""The whole demo, from the first line on the terminal to the last."""

import contextlib
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TextIO

from parchd.alarms.condition import Change
from parchd.app.service import Signals
from parchd.demo.broker import Broker, running_broker
from parchd.demo.configuration import FILE
from parchd.demo.errors import DemoError
from parchd.demo.logs import logging_into
from parchd.demo.news import Kind
from parchd.demo.rig import Rig
from parchd.demo.script import minutes_since_start
from parchd.demo.stage import Play, Stage
from parchd.demo.summary import Result, intro_lines, summary_lines
from parchd.demo.watch import Watch
from parchd.demo.wishes import Wishes


def show(wishes: Wishes, out: TextIO = sys.stdout, environ: Mapping[str, str] = os.environ) -> bool:
    """Run the demo until Ctrl-C, SIGTERM or the end of its time; true when the daemon stopped cleanly.

    Raises:
        DemoError: something is missing; the text says what to do.
    """
    signals = Signals()
    signals.install()
    stage = Stage(out, environ)
    with (
        work_folder(wishes.keep) as folder,
        logging_into(folder),
        running_broker() as broker,
    ):
        intro = intro_lines(wishes.speed, broker.name)
        stage.say([*intro, ""])
        result = _perform(wishes, folder, broker, stage, intro, signals)
    stage.say(summary_lines(result, wishes.keep))
    return result.clean


def _perform(
    wishes: Wishes, folder: Path, broker: Broker, stage: Stage, intro: Sequence[str], signals: Signals
) -> Result:
    with Rig(wishes, folder, broker) as rig:
        began_s = rig.clock.monotonic_s()
        with Watch(rig.loaded, wishes.speed) as watch:
            stage.perform(Play(watch, rig.desk, rig.clock, _pause(rig, wishes.seconds, signals)), intro)
        seconds, now_us = rig.clock.monotonic_s() - began_s, rig.clock.now_us()
    with Watch(rig.loaded, wishes.speed) as watch:
        watch.look(now_us)
        return Result(
            clean=rig.clean,
            seconds=seconds,
            farm_minutes=minutes_since_start(now_us),
            samples=watch.samples,
            raised=watch.alarms(Change.RAISED),
            cleared=watch.alarms(Change.CLEARED),
            webhooks=rig.desk.counts[Kind.WEBHOOK],
            mails=tuple(rig.sandbox.mails),
        )


def _pause(rig: Rig, seconds: float | None, signals: Signals) -> Callable[[float], bool]:
    """Make the function that waits, and tells whether the demo is over.

    It is over by a signal (one that the terminal is gone as well), by time, or when a thread of the daemon hangs.
    """
    end_s = float("inf") if seconds is None else rig.clock.monotonic_s() + seconds

    def pause(wanted_s: float) -> bool:
        signals.woken.wait(max(0.0, min(wanted_s, end_s - rig.clock.monotonic_s())))
        if trouble := rig.daemon.watch():
            rig.desk.tell(Kind.DAEMON, trouble)
        return bool(trouble) or signals.stop or signals.reload or rig.clock.monotonic_s() >= end_s

    return pause


@contextlib.contextmanager
def work_folder(keep: Path | None) -> Iterator[Path]:
    """Give the folder for everything: the one to keep, made where it is missing, or one that is deleted afterwards.

    Raises:
        DemoError: it cannot be made, or holds a demo already.
    """
    if keep is None:
        with tempfile.TemporaryDirectory(prefix="parchd-demo-", ignore_cleanup_errors=True) as folder:
            yield Path(folder)
        return
    try:
        keep.mkdir(parents=True, exist_ok=True)
        taken = any(keep.iterdir())
    except OSError as error:
        raise DemoError(f"--keep {keep}: {error.strerror or error}") from error
    if taken:
        raise DemoError(f"--keep {keep}: there is something in this folder already{_advice(keep)}; name a new one")
    yield keep.absolute()


def _advice(keep: Path) -> str:
    return ", an earlier demo" if (keep / FILE).exists() else ""
