"""The thread that serves pages."""

import logging
import socket
import threading

import uvicorn
from starlette.types import ASGIApp

from parchd.config.loaded import WebSettings
from parchd.web.listening import ShortLived, listener

logger = logging.getLogger(__name__)

LARGEST_HEADERS = 16 * 1024
FIRST_PAUSE_S = 5.0
LONGEST_PAUSE_S = 60.0


class WebServer:
    """Serves one application in a thread of its own until stopped.

    An address that cannot be listened on (the port is taken, a tunnel is not up yet) is tried again: the daemon has
    more important work.
    """

    def __init__(self, settings: WebSettings, application: ASGIApp) -> None:
        self._settings = settings
        self._stop = threading.Event()
        self._server = uvicorn.Server(
            uvicorn.Config(
                application,
                http=ShortLived,
                ws="none",
                loop="asyncio",
                lifespan="off",
                log_config=None,
                log_level="error",  # what is no HTTP it would tell with each of them
                access_log=False,
                server_header=False,
                headers=[("Connection", "close")],  # else a deadline could fall between two requests
                proxy_headers=bool(settings.proxies),
                forwarded_allow_ips=list(settings.proxies),
                timeout_keep_alive=5,
                timeout_graceful_shutdown=1,
                h11_max_incomplete_event_size=LARGEST_HEADERS,
            )
        )
        self._thread = threading.Thread(target=self._run, name="web", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Ask it to leave; `join` waits for it."""
        self._stop.set()
        self._server.should_exit = True

    def join(self, timeout_s: float) -> bool:
        self._thread.join(timeout_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        opened = self._listen()
        if opened is None:
            return
        where = f"{self._settings.host}, port {self._settings.port}"
        logger.info("pages are served on %s", where, extra={"event": "web.listening"})
        try:
            with opened:
                self._server.run(sockets=[opened])
        except Exception:
            logger.exception("pages are served no more", extra={"event": "web.failed"})

    def _listen(self) -> socket.socket | None:
        """Open the socket, again and again; ``None``: stopped meanwhile."""
        pause_s = FIRST_PAUSE_S
        while not self._stop.is_set():
            try:
                return listener(self._settings.host, self._settings.port)
            except OSError as error:
                where = f"{self._settings.host}, port {self._settings.port}"
                text = "pages cannot be served on %s: %s; trying again in %.0f s"
                logger.warning(text, where, error, pause_s, extra={"event": "web.unavailable"})
                self._stop.wait(pause_s)
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
        return None
