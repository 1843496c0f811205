"""``parchd run``"""

import logging
from argparse import Namespace
from collections.abc import Callable
from sqlite3 import sqlite_version

from parchd import __version__
from parchd.app.daemon import Daemon, Pages
from parchd.app.messages import Ask
from parchd.app.service import serve
from parchd.cli.exits import Exit
from parchd.cli.footprint import settle, share_memory
from parchd.cli.loading import load_config
from parchd.cli.logs import configure_logs
from parchd.clock import Clock, SystemClock
from parchd.config import Loaded
from parchd.config.loaded import WebSettings

logger = logging.getLogger(__name__)


def command(arguments: Namespace) -> Exit:
    """Run the daemon until it is asked to stop."""
    share_memory()
    configure_logs(verbose=arguments.verbose)
    logger.info("parchd %s, SQLite %s", __version__, sqlite_version, extra={"event": "daemon.version"})
    loaded = load_config(arguments.config)
    for warning in loaded.warnings:
        logger.warning("%s", warning, extra={"event": "config.warning"})
    clock = SystemClock()
    daemon = Daemon(loaded, clock, make_pages=_make_pages)
    settle()
    clean = serve(daemon, clock, lambda: load_config(arguments.config), until_read=arguments.until_read)
    return Exit.OK if clean else Exit.INTERNAL


def _make_pages(loaded: Loaded, settings: WebSettings, tell: Callable[[Ask], None], clock: Clock) -> Pages:
    from parchd.web.pages import open_pages  # a web server, which most daemons do without

    return open_pages(loaded, settings, tell, clock)
