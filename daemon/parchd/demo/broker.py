"""The demo's broker: Mosquitto where it is installed, else one written in Python."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec

from parchd.demo.errors import needs_extra
from parchd.demo.python_broker import PythonBroker
from parchd.testing.broker import Mosquitto

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Broker:
    """Where it listens, and what it is."""

    host: str
    port: int
    name: str


@contextmanager
def running_broker(*, in_python: bool = False) -> Iterator[Broker]:
    """Run a broker on a free port of this machine.

    Args:
        in_python: pass by an installed Mosquitto.

    Raises:
        DemoError: there is none; the text says how to get one.
    """
    mosquitto = None if in_python else _mosquitto()
    if mosquitto is not None:
        with mosquitto:
            yield Broker(mosquitto.host, mosquitto.port, "Mosquitto")
        return
    if find_spec("amqtt") is None:
        raise needs_extra("an MQTT broker")
    with PythonBroker() as broker:
        yield Broker(broker.host, broker.port, broker.name)


def _mosquitto() -> Mosquitto | None:
    try:
        return Mosquitto()
    except FileNotFoundError as error:
        logger.info("%s", error, extra={"event": "demo.no-mosquitto"})
        return None
