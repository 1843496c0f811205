"""The charts of a message as pictures, drawn by a process of its own; a mail never waits long for them."""

import base64
import binascii
import logging
import os
import subprocess
import sys
from collections import OrderedDict
from dataclasses import replace

from parchd.contract import Notice

logger = logging.getLogger(__name__)

DRAWN_WITHIN_S = 20.0
"""A small board takes some seconds to load what draws; whoever takes longer is not waited for."""
KEPT = 16
"""Pictures that are kept: a message to several people, and its next attempt, need not be drawn again."""
MOST = 12
"""Charts in one mail; the first ones."""

_DRAW = (sys.executable, "-m", "parchd_adapters.email.drawing")


class Pictures:
    """Draws charts, and remembers the last ones."""

    def __init__(self, within_s: float = DRAWN_WITHIN_S) -> None:
        self._within_s = within_s
        self._kept: OrderedDict[str, tuple[bytes, ...]] = OrderedDict()

    def of(self, notice: Notice) -> tuple[bytes, ...]:
        """Give a PNG for each chart of a notice, in order; nothing at all if they cannot be drawn in time.

        That is logged and never an error: the mail goes without them, and says in words what they show.
        """
        if not notice.charts:
            return ()
        asked = Notice(
            "", notice.kind, 0, "", "", "", charts=tuple(replace(one, alt="") for one in notice.charts[:MOST]),
            voice=notice.voice,
        ).to_json()  # fmt: skip
        if asked in self._kept:
            self._kept.move_to_end(asked)
            return self._kept[asked]
        drawn = self._drawn(asked, len(notice.charts[:MOST]))
        if drawn:
            self._kept[asked] = drawn
            while sum(map(len, self._kept.values())) > KEPT and len(self._kept) > 1:
                self._kept.popitem(last=False)
        return drawn

    def _drawn(self, asked: str, count: int) -> tuple[bytes, ...]:
        try:
            done = subprocess.run(  # noqa: S603  # our own program; what people wrote goes in by its input only
                _DRAW, input=asked, capture_output=True, text=True, encoding="utf-8", errors="replace",
                timeout=self._within_s, check=True, env=_environment(),
            )  # fmt: skip
            pictures = tuple(base64.b64decode(line, validate=True) for line in done.stdout.split())
        except subprocess.TimeoutExpired:
            return _without(f"not drawn within {self._within_s:g} s")
        except subprocess.CalledProcessError as error:
            return _without((str(error.stderr).strip().splitlines() or ["no word why"])[-1])
        except (OSError, binascii.Error) as error:
            return _without(str(error))
        return pictures if len(pictures) == count else _without(f"{len(pictures)} of {count} were drawn")


def _without(trouble: str) -> tuple[bytes, ...]:
    logger.warning("a mail goes without its charts: %s", trouble, extra={"event": "email.no_charts"})
    return ()


def _environment() -> dict[str, str]:
    """What a program needs to run, without the secrets that stand in variables of ours."""
    return {name: value for name, value in os.environ.items() if not name.startswith(("PARCHD_", "CREDENTIALS_"))}
