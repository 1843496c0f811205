"""Logging of the command line; the only place that configures handlers."""

import logging
import os
import sys


def configure_logs(*, verbose: bool) -> None:
    """Log to standard error, with times only where no journal adds them."""
    under_systemd = "JOURNAL_STREAM" in os.environ
    form = "%(levelname)s %(message)s" if under_systemd else "%(asctime)s %(levelname)-7s %(message)s"
    logging.basicConfig(level=logging.INFO, format=form, stream=sys.stderr)
    logging.getLogger("parchd").setLevel(logging.DEBUG if verbose else logging.INFO)
    logging.getLogger("parchd_adapters").setLevel(logging.DEBUG if verbose else logging.INFO)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
