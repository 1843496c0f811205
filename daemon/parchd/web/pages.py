"""The pages of one daemon: made from its configuration, kept up to date with it, served in a thread."""

from collections.abc import Callable

from parchd.app.messages import Ask
from parchd.app.setup import names
from parchd.clock import Clock
from parchd.config import Loaded
from parchd.config.loaded import WebSettings
from parchd.web.application import application
from parchd.web.server import WebServer
from parchd.web.site import Known, Reader, Site
from parchd.words import Voice


class Pages(WebServer):
    """Serves what a daemon has to show, until stopped.

    Args:
        tell: puts a message into the engine's queue.
    """

    def __init__(self, loaded: Loaded, settings: WebSettings, tell: Callable[[Ask], None], clock: Clock) -> None:
        self._site = Site(loaded.store.path, tell, clock, _known(loaded, settings))
        super().__init__(settings, application(self._site))

    def adopt(self, loaded: Loaded) -> None:
        """Show what a new configuration says; its ``[web]`` must be the same."""
        self._site.known = _known(loaded, self._site.known.settings)


def open_pages(loaded: Loaded, settings: WebSettings, tell: Callable[[Ask], None], clock: Clock) -> Pages:
    """Make the pages; nothing is served before they are started."""
    return Pages(loaded, settings, tell, clock)


def _known(loaded: Loaded, settings: WebSettings) -> Known:
    persons = {person.key: Reader(person.name, person.voice) for person in loaded.people}
    voice = Voice(time_zone=loaded.pipeline.site.time_zone)

    def reader(key: str) -> Reader:
        """Find a person; recipients without a table are known by their address."""
        return persons.get(key) or Reader(key.partition("/")[2] or key, voice)

    return Known(settings, names(loaded), loaded.alarms, reader)
