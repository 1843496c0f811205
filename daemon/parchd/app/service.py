"""Running the daemon in the foreground: signals, service manager, watchdog."""

import logging
import os
import signal
import threading
from collections.abc import Callable
from types import FrameType

from parchd.app.daemon import Daemon
from parchd.app.sd_notify import ServiceManager
from parchd.clock import US_PER_S, Clock
from parchd.config import Loaded
from parchd.contract import ConfigError

logger = logging.getLogger(__name__)

CHECK_S = 1.0


class Signals:
    """Sets flags when the process is asked to stop or to reload; nothing is done in the handler itself."""

    def __init__(self) -> None:
        self.woken = threading.Event()
        self.stop = False
        self.reload = False

    def install(self) -> None:
        signal.signal(signal.SIGTERM, self._on_stop)
        signal.signal(signal.SIGINT, self._on_stop)
        signal.signal(signal.SIGHUP, self._on_reload)

    def _on_stop(self, _number: int, _frame: FrameType | None) -> None:
        self.stop = True
        self.woken.set()

    def _on_reload(self, _number: int, _frame: FrameType | None) -> None:
        self.reload = True
        self.woken.set()


def serve(daemon: Daemon, clock: Clock, load: Callable[[], Loaded], *, until_read: bool = False) -> bool:
    """Run until SIGTERM or SIGINT; reload on SIGHUP. True when everything ended cleanly.

    Args:
        daemon: built, not started.
        clock: for the service manager.
        load: reads the configuration again; a broken one leaves the old one running.
        until_read: stop by itself when every source has read all it had.
    """
    manager = ServiceManager(os.environ)
    signals = Signals()
    signals.install()
    pulse_s = min(CHECK_S, manager.watchdog_interval_s or CHECK_S)
    try:
        daemon.start()
        manager.ready(_status(daemon.loaded))
        logger.info("started: %s", _status(daemon.loaded), extra={"event": "daemon.started"})
        while not signals.stop and not (until_read and daemon.sources_ended()):
            if signals.reload:
                signals.reload = False
                manager.reloading(round(clock.monotonic_s() * US_PER_S))
                _reload(daemon, load, manager)
            _look_after(daemon, manager)
            signals.woken.wait(pulse_s)
            signals.woken.clear()
    finally:  # the engine's thread would go on without us, unwatched
        manager.stopping()
        clean = daemon.stop()
        logger.info("stopped%s", "" if clean else ", but not cleanly", extra={"event": "daemon.stopped"})
    return clean


def _look_after(daemon: Daemon, manager: ServiceManager) -> None:
    trouble = daemon.watch()
    if trouble:
        logger.error("%s; the watchdog is not fed", trouble, extra={"event": "daemon.hangs"})
    else:
        manager.watchdog()


def _reload(daemon: Daemon, load: Callable[[], Loaded], manager: ServiceManager) -> None:
    try:
        daemon.reload(load())
    except ConfigError as error:
        _refuse(error)
        manager.ready("new configuration refused, the old one goes on: see the log")
        return
    manager.ready(_status(daemon.loaded))
    logger.info("reloaded: %s", _status(daemon.loaded), extra={"event": "daemon.reloaded"})


def _refuse(error: ConfigError) -> None:
    for problem in error.problems:
        logger.error("%s", problem, extra={"event": "config.problem"})
    logger.error("the new configuration is broken; the old one goes on", extra={"event": "config.refused"})


def _status(loaded: Loaded) -> str:
    count = len(loaded.pipeline.tensiometers)
    return f"{loaded.pipeline.site.name}: {count} tensiometers, {len(loaded.sources)} sources"
