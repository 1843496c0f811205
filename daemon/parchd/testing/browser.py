"""Chromium, driven as a person would: it looks, types and clicks; scripts of pages may be switched off."""

import base64
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Self

from parchd.clock import SystemClock

_ARGUMENTS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
    "--remote-debugging-pipe",
)  # fmt: skip
_PATIENCE_S = 20.0
_WIRE = (
    "import os, sys; os.dup2(int(sys.argv[1]), 200); os.dup2(int(sys.argv[2]), 201);"
    "os.dup2(200, 3); os.dup2(201, 4); os.execvp(sys.argv[3], sys.argv[3:])"
)
"""The browser speaks its protocol on descriptors 3 and 4."""


class Browser:
    """One page of a given size; ends with the ``with`` block.

    It speaks the DevTools protocol over a pair of pipes: JSON messages that end with a zero byte.

    Args:
        width, height: of the page, in CSS pixels.
        scripts: whether pages may run any.
    """

    def __init__(self, width: int = 360, height: int = 760, *, scripts: bool = False) -> None:
        self._size = (width, height)
        self._scripts = scripts
        self._number = 0
        self._session = ""
        self._buffer = b""
        self._folder = tempfile.TemporaryDirectory(prefix="parchd-browser-", ignore_cleanup_errors=True)

    def __enter__(self) -> Self:
        to_read, self._to_write = os.pipe()
        self._from_read, from_write = os.pipe()

        wiring = (sys.executable, "-c", _WIRE, str(to_read), str(from_write), "chromium")
        self._process = subprocess.Popen(  # noqa: S603 - our own arguments
            [*wiring, *_ARGUMENTS, f"--user-data-dir={self._folder.name}", "about:blank"],
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            pass_fds=(to_read, from_write),
        )  # fmt: skip
        os.close(to_read)
        os.close(from_write)
        targets = self._call("Target.getTargets")["targetInfos"]
        page = next(target["targetId"] for target in targets if target["type"] == "page")
        self._session = self._call("Target.attachToTarget", targetId=page, flatten=True)["sessionId"]
        self._call("Page.enable")
        self._call("Emulation.setScriptExecutionDisabled", value=not self._scripts)
        self.resize(*self._size)
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(_PATIENCE_S)
        os.close(self._to_write)
        os.close(self._from_read)
        self._folder.cleanup()

    def open(self, url: str) -> None:
        """Go to an address, and wait until it is there."""
        self._call("Page.navigate", url=url)
        self._settle()

    def resize(self, width: int, height: int) -> None:
        """Be a phone, or whatever has another size."""
        size = {"width": width, "height": height}
        self._call("Emulation.setDeviceMetricsOverride", **size, deviceScaleFactor=1, mobile=True)

    def click(self, selector: str) -> None:
        """Press what a CSS selector finds, with the finger of a mouse in its middle, and wait for what follows."""
        node = self._node(selector)
        self._call("DOM.scrollIntoViewIfNeeded", nodeId=node)
        x1, y1, _, _, x2, y2, *_ = self._call("DOM.getBoxModel", nodeId=node)["model"]["border"]
        at = {"x": (x1 + x2) / 2, "y": (y1 + y2) / 2, "button": "left", "clickCount": 1}
        self._call("Input.dispatchMouseEvent", type="mousePressed", **at)
        self._call("Input.dispatchMouseEvent", type="mouseReleased", **at)
        self._settle()

    def type(self, selector: str, text: str) -> None:
        """Write into a field."""
        self._call("DOM.focus", nodeId=self._node(selector))
        self._call("Input.insertText", text=text)

    def text(self, selector: str = "main") -> str:
        """The HTML of what a selector finds."""
        html: str = self._call("DOM.getOuterHTML", nodeId=self._node(selector))["outerHTML"]
        return html

    def wait_for(self, text: str, selector: str = "main") -> str:
        """Wait until a text stands there; return all of it.

        Raises:
            AssertionError: it does not come.
        """
        clock = SystemClock()
        deadline_s = clock.monotonic_s() + _PATIENCE_S
        while text not in (found := self.text(selector)):
            assert clock.monotonic_s() < deadline_s, found
            time.sleep(0.05)
        return found

    def boxes(self, selector: str) -> list[tuple[float, float, float, float]]:
        """Left, top, right and bottom of all that a selector finds."""
        root = self._call("DOM.getDocument")["root"]["nodeId"]
        found = self._call("DOM.querySelectorAll", nodeId=root, selector=selector)["nodeIds"]
        models = [self._call("DOM.getBoxModel", nodeId=node)["model"]["border"] for node in found]
        return [(box[0], box[1], box[4], box[5]) for box in models]

    def content_size(self) -> tuple[float, float]:
        """Width and height of all there is, also outside of the window."""
        size = self._call("Page.getLayoutMetrics")["cssContentSize"]
        return size["width"], size["height"]

    def picture(self, path: Path) -> None:
        """Keep a picture of the whole page."""
        shot = self._call("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        path.write_bytes(base64.b64decode(shot["data"]))

    def _node(self, selector: str) -> int:
        root = self._call("DOM.getDocument")["root"]["nodeId"]
        node: int = self._call("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        assert node, f"there is no {selector}"
        return node

    def _settle(self) -> None:
        """Let a navigation come to its end."""
        clock = SystemClock()
        deadline_s = clock.monotonic_s() + _PATIENCE_S
        quiet_s = clock.monotonic_s() + 0.3
        while clock.monotonic_s() < min(quiet_s, deadline_s):
            time.sleep(0.05)
            self._call("Page.getLayoutMetrics")

    def _call(self, method: str, **parameters: Any) -> dict[str, Any]:
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to_write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, f"{method}: {answer.get('error')}"
                result: dict[str, Any] = answer["result"]
                return result

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            chunk = os.read(self._from_read, 65536)
            assert chunk, "the browser has gone"
            self._buffer += chunk
        message, _, self._buffer = self._buffer.partition(b"\0")
        found: dict[str, Any] = json.loads(message)
        return found
