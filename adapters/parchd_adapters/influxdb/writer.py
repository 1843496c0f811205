"""One request at a time to the server, through influxdb-client."""

from typing import Any, Protocol

from parchd.contract import Services, SinkUnavailable
from parchd_adapters._shared.retry_after import retry_after_s
from parchd_adapters.influxdb.library import slim_import
from parchd_adapters.influxdb.options import InfluxOptions
from parchd_adapters.influxdb.replies import Reply, one_line, read_reason

_CONNECT_S = 5.0


class Writer(Protocol):
    """What the sink needs of a connection."""

    def send(self, lines: bytes) -> Reply | None:
        """Post lines once; ``None``: all are stored, else what the server answered.

        Raises:
            SinkUnavailable: there was no answer.
        """
        ...

    def advice(self, reply: Reply) -> str:
        """Say what a person must do about an answer."""
        ...

    def close(self) -> None: ...


class InfluxWriter:
    """Writes synchronously: no background thread, no batching, no retries but ours."""

    def __init__(self, options: InfluxOptions, services: Services) -> None:
        self._options = options
        self._name = services.name
        self._clock = services.clock
        self._client: Any = None

    def send(self, lines: bytes) -> Reply | None:
        import urllib3

        with slim_import():
            from influxdb_client.rest import ApiException

        api = self._open()
        try:
            api.write(self._options.bucket, self._options.org, lines, "us")
        except ApiException as error:
            return self._reply(error)
        except (urllib3.exceptions.HTTPError, OSError) as error:
            raise SinkUnavailable(f"no answer from {self._options.url}: {_words(error)}") from error
        except UnicodeDecodeError as error:
            # The client decodes error pages as UTF-8 before it looks at the status.
            raise SinkUnavailable(f"unreadable answer from {self._options.url}") from error
        return None

    def advice(self, reply: Reply) -> str:
        key = f"sinks.{self._name}"
        options = self._options
        said = f"{options.url} answered {reply.status}" if reply.status else f"no secure connection to {options.url}"
        todo = {
            0: f"check {key}.ca_file and the name in {key}.url",
            400: f"it speaks of no line: check {key}.url (https or http?) and what stands between",
            401: f"check {key}.token_file: the server does not know this token",
            403: f"check {key}.token_file: the token needs write access to bucket {options.bucket!r}",
            404: f"check {key}.bucket, {key}.org and {key}.url: the server does not know them",
        }.get(reply.status, f"check {key}.url")
        if "type conflict" in reply.reason:
            todo = f"other data holds these field names: choose another {key}.measurement or bucket"
        return f"{said}: {reply.reason or 'nothing more'}. What to do: {todo}."

    def close(self) -> None:
        client, self._client = self._client, None
        if client is not None:
            client.close()

    def _open(self) -> Any:
        with slim_import():
            from influxdb_client.client.write_api import SYNCHRONOUS

        if self._client is None:
            self._client = _connect(self._options, self._token())
        return self._client.write_api(write_options=SYNCHRONOUS)

    def _token(self) -> str | None:
        if self._options.token is None:
            return None
        token = self._options.token.get_secret_value().strip()
        if not (token.isascii() and token.isprintable()):
            # The HTTP library would refuse it too, quoting it.
            raise SinkUnavailable(
                "the token holds characters that no HTTP header carries. "
                f"What to do: check sinks.{self._name}.token_file.",
                needs_person=True,
            )
        return token

    def _reply(self, error: Any) -> Reply:
        reason, structured = read_reason(error.body or error.reason or "")
        headers = error.headers or {}
        pause = retry_after_s(headers.get("Retry-After"), self._clock.now_us())
        return Reply(error.status or 0, reason, structured, pause)


def _connect(options: InfluxOptions, token: str | None) -> Any:
    """Make the client; its own annotations are too narrow to be of use (no argument may be ``None``)."""
    with slim_import():
        from influxdb_client.client.influxdb_client import InfluxDBClient

    client: Any = InfluxDBClient
    return client(
        url=options.url,
        token=token,
        org=options.org,
        timeout=_timeouts_ms(options.timeout_s),
        enable_gzip=options.gzip,
        verify_ssl=True,
        ssl_ca_cert=None if options.ca_file is None else str(options.ca_file),
        connection_pool_maxsize=1,
    )


def _words(error: Exception) -> str:
    """Say what happened without the library's names for its objects; the same text for the same trouble."""
    from urllib3.exceptions import NewConnectionError
    from urllib3.exceptions import TimeoutError as TookTooLong

    # NewConnectionError still derives from a time-out in urllib3 2, though it means "refused".
    if isinstance(error, TookTooLong) and not isinstance(error, NewConnectionError):
        return "timed out"
    return one_line(str(error).rpartition("): ")[2])


def _timeouts_ms(timeout_s: float) -> tuple[int, int]:
    """Split into the pair (connect, read) that the client takes."""
    return round(min(timeout_s, _CONNECT_S) * 1000), round(timeout_s * 1000)
