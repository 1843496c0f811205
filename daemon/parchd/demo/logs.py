"""The daemon's log goes into a file: the terminal belongs to the picture."""

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

FILE = "daemon.log"
_CHATTY = ("amqtt", "transitions", "apscheduler", "mail.log", "asyncio")

logger = logging.getLogger(__name__)


class Connections(logging.Handler):
    """Counts the sources of the daemon that have found their line."""

    def __init__(self, wanted: int) -> None:
        super().__init__(logging.INFO)
        self.ready = threading.Event()
        self._left = wanted

    def emit(self, record: logging.LogRecord) -> None:
        if getattr(record, "event", "") == "source.connected":
            self._left -= 1
            if self._left <= 0:
                self.ready.set()


@contextmanager
def heard(connections: Connections) -> Iterator[Connections]:
    """Let it count for a while."""
    root = logging.getLogger()
    root.addHandler(connections)
    try:
        yield connections
    finally:
        root.removeHandler(connections)


@contextmanager
def logging_into(folder: Path) -> Iterator[None]:
    """Send every log line, warning and failed thread into the folder's log; put all back at the end."""
    root, hook = logging.getLogger(), threading.excepthook
    handler = logging.FileHandler(folder / FILE, encoding="utf-8")
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)-7s %(message)s"))
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    logging.captureWarnings(True)
    threading.excepthook = _log_thread
    for name in _CHATTY:
        logging.getLogger(name).setLevel(logging.WARNING)
    try:
        yield
    finally:
        threading.excepthook = hook
        logging.captureWarnings(False)
        root.setLevel(level)
        root.removeHandler(handler)
        handler.close()


def _log_thread(failed: threading.ExceptHookArgs) -> None:
    name = failed.thread.name if failed.thread else "?"
    error: BaseException = failed.exc_value or failed.exc_type()
    trace: TracebackType | None = failed.exc_traceback
    logger.error("thread %s failed", name, exc_info=(type(error), error, trace), extra={"event": "demo.thread"})
