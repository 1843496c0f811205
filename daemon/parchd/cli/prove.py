"""``parchd prove``"""

import logging
import os
from argparse import Namespace
from dataclasses import replace

from parchd.cli.desk import Desk, ended_by_signals
from parchd.cli.exits import Exit
from parchd.cli.loading import load_config
from parchd.cli.proving import Proving
from parchd.clock import SystemClock
from parchd.contract import ParchdError
from parchd.physics.head import head_kpa
from parchd.pipeline.setup import TensiometerSetup
from parchd.workbench.live import find_setup
from parchd.workbench.live_open import open_feed
from parchd.workbench.live_typed import parse_duration_s
from parchd.workbench.proof import Outcome, Proof, Subject, Terms
from parchd.workbench.records import record_folder


class ProveError(ParchdError, ValueError):
    """The tests cannot be made like this; the text says why."""


def command(arguments: Namespace) -> Exit:
    """Guide through the tests; each leaves a record and a picture."""
    logging.getLogger().addHandler(logging.NullHandler())  # what a source logs would fall into the picture
    loaded, clock = load_config(arguments.config), SystemClock()
    setup = find_setup(loaded, arguments.tensiometer)
    desk = Desk(clock, os.environ, ascii_only=arguments.ascii)
    subject, terms = subject_of(setup), terms_of(arguments)
    check(subject, terms)
    if arguments.typed and not desk.somebody:
        raise ProveError("--typed needs a terminal and somebody who types")
    folder = record_folder(arguments.records, loaded.store.path)
    proving = Proving(setup, loaded.pipeline.site.time_zone, subject, terms, folder, arguments.by or "", desk, clock)
    wanted = [Proof(arguments.test)] if arguments.test else list(Proof)
    with ended_by_signals():
        feed = None if arguments.typed else open_feed(loaded, setup, clock)
        try:
            results = proving.run(wanted, feed)
        except KeyboardInterrupt:
            desk.show(["", "Ended."])
            return Exit.FAILED
        finally:
            if feed is not None:
                feed.close()
    good = len(results) == len(wanted) and all(result.outcome is Outcome.PASSED for result in results)
    return Exit.OK if good else Exit.FAILED


def subject_of(setup: TensiometerSetup) -> Subject:
    """The instrument, as its tests see it."""
    return Subject(setup.place.tensiometer, head_kpa(setup.height_m, setup.water_c), setup.usable_limit_kpa)


def terms_of(arguments: Namespace) -> Terms:
    """What must be shown, by the arguments."""
    usual = Terms()
    target_kpa = usual.target_kpa if arguments.target is None else arguments.target
    terms = replace(
        usual,
        target_kpa=target_kpa,
        good_kpa=max(usual.good_kpa, target_kpa) if arguments.good is None else arguments.good,
        leak_kpa=usual.leak_kpa if arguments.leak is None else arguments.leak,
        zero_kpa=usual.zero_kpa if arguments.zero is None else arguments.zero,
    )
    if arguments.time_limit is None:
        return terms
    limit_s = parse_duration_s(arguments.time_limit)
    return replace(terms, towel_s=limit_s, hold_s=limit_s, return_s=limit_s)


def check(subject: Subject, terms: Terms) -> None:
    """
    Raises:
        ProveError: what is asked can never be shown.
    """
    if not (min(terms.target_kpa, terms.leak_kpa, terms.zero_kpa) > 0.0 and terms.good_kpa >= terms.target_kpa):
        raise ProveError("thresholds are above 0, and --good is not below --target")
    if terms.target_kpa >= subject.usable_kpa:
        raise ProveError(
            f"{subject.name} can be believed up to {subject.usable_kpa:.0f} kPa only, at this altitude and height: "
            f"it can never show {terms.target_kpa:g} kPa. Choose a lower --target"
        )
