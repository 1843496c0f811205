"""A web server on loopback that keeps the webhooks it gets."""

import threading
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

from parchd.testing.post_server import Hang, Post, PostServer, Reply, Reset, Step


@dataclass(frozen=True, slots=True)
class Answer:
    """What the receiver does with one request.

    Args:
        status: HTTP status.
        headers: further headers, e.g. ``Retry-After``.
        body: what it says.
        delay_s: how long it thinks first; ``stop`` cuts it short.
        drop: keep the request and hang up without an answer.
        hang: keep the request and never answer.
    """

    status: int = 204
    headers: Mapping[str, str] = field(default_factory=dict)
    body: str | bytes = ""
    delay_s: float = 0.0
    drop: bool = False
    hang: bool = False


@dataclass(frozen=True, slots=True)
class ReceivedRequest:
    """A request as it came, and what it got. Names of headers are in lower case."""

    path: str
    headers: Mapping[str, str]
    body: bytes
    answer: Answer


class HttpReceiver:
    """Answers POSTs with what `script` holds, one for each, then with 204.

    Args:
        certificate, key: serve https with these files.
        on_request: called for each request, by the server's threads.

    >>> with HttpReceiver() as receiver:
    ...     receiver.url.startswith("http://127.0.0.1:")
    True
    """

    def __init__(
        self,
        *,
        certificate: Path | None = None,
        key: Path | None = None,
        on_request: Callable[[ReceivedRequest], None] | None = None,
    ) -> None:
        self.requests: list[ReceivedRequest] = []
        self._script: deque[Answer] = deque()
        self._changed = threading.Condition(threading.RLock())
        self._stopping = threading.Event()
        self._on_request = on_request
        self._server = PostServer(self._take, certificate, key)

    @property
    def url(self) -> str:
        """Address of the receiver, without a path; it stays the same over `stop` and `start`."""
        return self._server.url

    @property
    def deliveries(self) -> dict[str, ReceivedRequest]:
        """What a receiver that honours the key keeps: the first request it took of each ``webhook-id``."""
        kept: dict[str, ReceivedRequest] = {}
        with self._changed:
            for request in self.requests:
                if 200 <= request.answer.status < 300:
                    kept.setdefault(request.headers.get("webhook-id", ""), request)
        return kept

    def script(self, *answers: Answer | int) -> None:
        """Append answers for the requests to come; a number is a status."""
        with self._changed:
            self._script += [Answer(answer) if isinstance(answer, int) else answer for answer in answers]

    def wait_for(self, condition: Callable[["HttpReceiver"], bool], timeout_s: float = 10.0) -> bool:
        """Wait until ``condition(self)`` holds; false when it does not within the time."""
        with self._changed:
            return self._changed.wait_for(lambda: condition(self), timeout_s)

    def start(self) -> None:
        self._stopping.clear()
        self._server.start()

    def stop(self) -> None:
        """Go away: no thread and no port stays. What was received is kept."""
        self._stopping.set()
        self._server.stop()

    def __enter__(self) -> "HttpReceiver":
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def _take(self, post: Post) -> Step:
        headers = {name.lower(): value for name, value in post.headers.items()}
        with self._changed:
            answer = self._script.popleft() if self._script else Answer()
            request = ReceivedRequest(post.path, headers, post.body, answer)
            self.requests.append(request)
            self._changed.notify_all()
        if self._on_request is not None:
            self._on_request(request)
        self._stopping.wait(answer.delay_s)
        return _step(answer)


def _step(answer: Answer) -> Step:
    if answer.hang:
        return Hang()
    return Reset(after_storing=True) if answer.drop else Reply(answer.status, answer.body, answer.headers)
