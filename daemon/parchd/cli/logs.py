"""Logging of the command line; the only place that configures handlers."""

import logging
import os
import sys


class EventFormatter(logging.Formatter):
    """Ends a line with the name of its event in brackets, which stays when wording changes: search for that."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the name is inherited
        line = super().formatMessage(record)
        event = getattr(record, "event", None)
        return f"{line} [{event}]" if event else line


def configure_logs(*, verbose: bool) -> None:
    """Log to standard error, with times only where no journal adds them."""
    under_systemd = "JOURNAL_STREAM" in os.environ
    form = "%(levelname)s %(message)s" if under_systemd else "%(asctime)s %(levelname)-7s %(message)s"
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(EventFormatter(form))
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    logging.getLogger("parchd").setLevel(logging.DEBUG if verbose else logging.INFO)
    logging.getLogger("parchd_adapters").setLevel(logging.DEBUG if verbose else logging.INFO)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
