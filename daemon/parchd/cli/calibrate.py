"""``parchd calibrate``"""

import logging
import os
from argparse import Namespace
from dataclasses import replace

from parchd.cli.calibrating import Bench, Stopped
from parchd.cli.calibrating_check import check_span, check_zero
from parchd.cli.calibrating_full import calibrate
from parchd.cli.calibrating_write import load_with, target_of
from parchd.cli.desk import Desk, ended_by_signals
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.clock import SystemClock
from parchd.contract import ParchdError
from parchd.workbench.calibrating_reference import Reference, parse_reference_unit
from parchd.workbench.live import find_setup
from parchd.workbench.live_open import open_feed
from parchd.workbench.live_steady import Limits
from parchd.workbench.live_typed import parse_duration_s
from parchd.workbench.records import record_folder


class CalibrateError(ParchdError, ValueError):
    """It cannot be calibrated like this; the text says why."""


def command(arguments: Namespace) -> Exit:
    """Ask for reference points, judge them, and write a calibration that the configuration picks up."""
    logging.getLogger().addHandler(logging.NullHandler())  # what a source logs would fall into the conversation
    clock, target = SystemClock(), target_of(load_config(arguments.config))
    loaded = load_with(arguments.config, target)
    setup = find_setup(loaded, arguments.tensiometer)
    desk = Desk(clock, os.environ, ascii_only=arguments.ascii)
    if not desk.somebody:
        raise CalibrateError("calibrate asks questions: start it in a terminal, over SSH with ssh -t")
    limits = Limits() if arguments.steady is None else replace(Limits(), window_s=parse_duration_s(arguments.steady))
    unit = None if arguments.reference is None else parse_reference_unit(arguments.reference)
    folder = record_folder(arguments.records, loaded.store.path)
    with ended_by_signals():
        feed = None if arguments.typed else open_feed(loaded, setup, clock)
        bench = Bench(loaded, setup, feed, limits, folder, arguments.by or "", desk, clock)
        given = None if unit is None else Reference(unit, setup.water_c)
        try:
            if arguments.zero:
                return check_zero(bench, target)
            if arguments.check:
                return check_span(bench, target, given)
            return calibrate(bench, target, given, arguments.degree)
        except Stopped:
            desk.say("Stopped; nothing was written.")
            return Exit.FAILED
        except KeyboardInterrupt:
            desk.show(["", "Ended; nothing was written. Points that were taken are kept for the next time."])
            return Exit.FAILED
        finally:
            if feed is not None:
                feed.close()
