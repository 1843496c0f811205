"""Work that goes on in a thread beside a test."""

import threading
from abc import ABC, abstractmethod
from typing import Self


class Background(ABC):
    """Runs `work` in a thread of its own from ``with`` on, and ends it on the way out."""

    def __init__(self) -> None:
        self.ends = threading.Event()
        self._thread = threading.Thread(target=self.work, name=type(self).__name__.lower())

    @abstractmethod
    def work(self) -> None:
        """Go on until ``ends`` is set."""

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def stop(self) -> None:
        self.ends.set()
        self._thread.join()

    @property
    def is_alive(self) -> bool:
        return self._thread.is_alive()
