"""An MQTT broker in this process, for machines without Mosquitto: amqtt, from the extra ``demo``."""

import asyncio
import threading
from typing import Any

_PATIENCE_S = 5.0


class PythonBroker:
    """Listens on loopback from ``with`` to its end, in a thread with a loop of its own."""

    host = "127.0.0.1"
    name = "amqtt"

    def __init__(self) -> None:
        self.port = 0
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, name="broker")
        self._broker: Any = None

    def __enter__(self) -> "PythonBroker":
        self._thread.start()
        try:
            self._broker, self.port = self._wait_for(_started(self._loop))
        except BaseException:
            self._end()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        try:
            self._wait_for(self._broker.shutdown())
        finally:
            self._end()

    def _wait_for(self, work: Any) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(_PATIENCE_S)

    def _end(self) -> None:
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_PATIENCE_S)
        self._loop.close()


async def _started(loop: asyncio.AbstractEventLoop) -> tuple[Any, int]:
    from amqtt.broker import Broker

    broker = Broker(
        {
            "listeners": {"default": {"type": "tcp", "bind": "127.0.0.1:0"}},
            "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
        },
        loop=loop,
    )
    await broker.start()
    (server,) = broker._servers.values()  # it offers no other way to learn the port that the kernel chose
    return broker, server.instance.sockets[0].getsockname()[1]
