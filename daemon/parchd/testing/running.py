"""A source that runs in a thread, for as long as a test needs it."""

import threading

from parchd.contract import Intake, Source, Stopping


class Running:
    """Run a source in a thread of its own, as the daemon does, and end it on the way out.

    ``error`` holds what ``run`` raised; `Stopping` counts as a plain return.
    """

    def __init__(self, source: Source, intake: Intake, stop: threading.Event | None = None) -> None:
        self.error: BaseException | None = None
        self.stop = stop or threading.Event()
        self._source = source
        self._intake = intake
        self._thread = threading.Thread(target=self._run, name="source under test", daemon=True)

    def __enter__(self) -> "Running":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop.set()
        self._thread.join(10.0)

    def ended(self, within_s: float) -> bool:
        """Wait until ``run`` has returned or raised; false when it has not within the time."""
        self._thread.join(within_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        try:
            self._source.run(self._intake, self.stop)
        except Stopping:
            return
        except BaseException as error:  # the test judges it, whatever it is
            self.error = error
