"""What pages must know of the running daemon."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from starlette.requests import Request

from parchd.alarms.names import Names
from parchd.alarms.rules import AlarmSetup
from parchd.app.messages import Ask
from parchd.clock import Clock
from parchd.config.loaded import WebSettings
from parchd.store.database import open_reader
from parchd.web.guard import Patience
from parchd.words import Voice


@dataclass(frozen=True, slots=True)
class Reader:
    """Somebody who looks at a page: their name, and how they are spoken to."""

    name: str
    voice: Voice


@dataclass(frozen=True, slots=True)
class Known:
    """What of the configuration pages show; replaced as a whole on reload.

    Args:
        settings: of the pages.
        names: what people of the site call things.
        alarms: rules, for their priorities.
        reader: finds somebody by the key that a link carries.
    """

    settings: WebSettings
    names: Names
    alarms: AlarmSetup
    reader: Callable[[str], Reader]


class Site:
    """The daemon as its pages see it: they read its journal, and ask its engine for everything else."""

    def __init__(self, database: Path, tell: Callable[[Ask], None], clock: Clock, known: Known) -> None:
        self.known = known
        self.tell = tell
        self.clock = clock
        self.patience = Patience(clock)
        self._database = database

    @contextmanager
    def journal(self) -> Iterator[sqlite3.Connection]:
        """A connection that only reads, for one request."""
        connection = open_reader(self._database)
        try:
            yield connection
        finally:
            connection.close()


def address_of(request: Request) -> str:
    """Where a request came from."""
    return request.client.host if request.client is not None else ""


class TooLarge(ValueError):
    """A body has more bytes than anybody needs."""


async def body_of(request: Request, most: int) -> bytes:
    """Read a body.

    Raises:
        TooLarge: it has more bytes than ``most``; the rest is not read.
    """
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > most:
            raise TooLarge(f"at most {most} bytes")
    return body
