"""Where the samples of a tensiometer come from at this moment."""

from parchd.clock import Clock
from parchd.config import Loaded
from parchd.pipeline.setup import TensiometerSetup
from parchd.store.database import is_held
from parchd.workbench.live import Feed
from parchd.workbench.live_chain import Chain
from parchd.workbench.live_journal import JournalFeed
from parchd.workbench.live_source import SourceFeed


def open_feed(loaded: Loaded, setup: TensiometerSetup, clock: Clock) -> Feed:
    """Follow the journal of a running daemon; run the sources ourselves where none runs.

    Raises:
        StoreError: the journal of the running daemon cannot be read.
    """
    chain = Chain(setup, loaded.pipeline.site)
    if is_held(loaded.store.path):
        return JournalFeed(loaded, chain, clock)
    return SourceFeed(loaded, chain, clock)
