"""A server that speaks just enough of the InfluxDB 2 write API, and answers as it is told."""

import json
import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from parchd.testing.post_server import Hang, Post, PostServer, Reply, Reset, Step

__all__ = ["FakeInflux", "Hang", "Reply", "Request", "Reset", "Step"]

Judge = Callable[[str], str | None]
"""Says why a line is refused; ``None``: it is good."""


@dataclass(frozen=True, slots=True)
class Request:
    """What one request carried, and how it was answered (0: not at all)."""

    lines: int
    size: int
    gzip: bool
    query: Mapping[str, str]
    status: int


class FakeInflux:
    """Keeps accepted lines in `lines`: fields by (series, time), all as text.

    Args:
        token, org, bucket: what it accepts; others get 401 and 404.
        judge: finds bad lines; none by default.
        partial: store the good lines of a request that has bad ones (versions 1 and 3), or none (version 2).
        quotes: name the bad lines in the answer.
        max_bytes: longer requests, unpacked, get 413.
        certificate, key: serve https with these files.
    """

    def __init__(
        self,
        *,
        token: str = "secret-token",  # noqa: S107 -- a stand-in, it opens nothing
        org: str = "farm",
        bucket: str = "tension",
        judge: Judge = lambda _line: None,
        partial: bool = False,
        quotes: bool = True,
        max_bytes: int = 50_000_000,
        certificate: Path | None = None,
        key: Path | None = None,
    ) -> None:
        self.token = token
        self.org = org
        self.bucket = bucket
        self.judge = judge
        self.partial = partial
        self.quotes = quotes
        self.max_bytes = max_bytes
        self.lines: dict[tuple[str, str], str] = {}
        self.requests: list[Request] = []
        self._steps: deque[Step] = deque()
        self._lock = threading.Lock()
        self._server = PostServer(self._answer, certificate, key)

    @property
    def url(self) -> str:
        return self._server.url

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Listen; after `stop`, again on the same port with the same lines."""
        self._server.start()

    def stop(self) -> None:
        """Break all connections; new ones are refused."""
        self._server.stop()

    def script(self, *steps: Step) -> None:
        """Answer the next requests so, one after another; afterwards as usual."""
        with self._lock:
            self._steps.extend(steps)

    def _answer(self, post: Post) -> Step:
        with self._lock:
            step = self._next_step(post)
            packed = post.headers.get("Content-Encoding") == "gzip"
            status = step.status if isinstance(step, Reply) else 0
            lines = len(post.text.splitlines())
            self.requests.append(Request(lines, len(post.body), packed, post.query, status))
        return step

    def _next_step(self, post: Post) -> Step:
        if post.path != "/api/v2/write":
            return Reply(404, "404 page not found\n")
        step = self._steps.popleft() if self._steps else None
        if step is None:
            return self._take(post)
        if isinstance(step, Reset) and step.after_storing:
            self._take(post)
        return step

    def _take(self, post: Post) -> Reply:
        """Judge and store one request as a server without a script does."""
        if self.token and post.headers.get("Authorization") != f"Token {self.token}":
            return _error(401, "unauthorized", "unauthorized access")
        for kind, expected in (("org", self.org), ("bucket", self.bucket)):
            if post.query.get(kind) != expected:
                return _error(404, "not found", f'{kind} "{post.query.get(kind)}" not found')
        if len(post.text.encode()) > self.max_bytes:
            return _error(413, "request too large", "unable to read the request: it is too large")
        return self._store(post.text.splitlines())

    def _store(self, lines: list[str]) -> Reply:
        bad = {line: reason for line in lines if (reason := self.judge(line)) is not None}
        if self.partial or not bad:
            self.lines.update(_keyed(line) for line in lines if line not in bad)
        if not bad:
            return Reply(204)
        named = [f"unable to parse '{line}': {reason}" for line, reason in bad.items()]
        return _error(400, "invalid", "\n".join(named) if self.quotes else next(iter(bad.values())))


def _keyed(line: str) -> tuple[tuple[str, str], str]:
    """Split a line at the spaces that are not escaped: ((series, time), fields)."""
    front, fields, stamp = line.replace("\\ ", "\0").split(" ")
    return (front.replace("\0", "\\ "), stamp), fields


def _error(status: int, code: str, message: str) -> Reply:
    return Reply(status, json.dumps({"code": code, "message": message}), {"Content-Type": "application/json"})
