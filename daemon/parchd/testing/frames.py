"""A page in frames of several widths, measured by a script in a real browser."""

import json
import subprocess
from collections.abc import Sequence
from html import escape, unescape
from pathlib import Path
from typing import Any

CHROMIUM = (
    "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic",
    "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
_ON_LOAD = """
window.onload = () => {
  document.body.textContent = JSON.stringify([...document.querySelectorAll("iframe")].map(measure));
};
"""


def chromium(folder: Path, *words: str) -> str:
    """Start the browser for one thing, with a profile in a folder; give what it prints."""
    done = subprocess.run(  # noqa: S603 - our own arguments
        (*CHROMIUM, f"--user-data-dir={folder / 'profile'}", *words),
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    return done.stdout


def measured(
    folder: Path, page: str, widths: Sequence[int], measure: str, *, scrollbars: bool = True
) -> list[dict[str, Any]]:
    """Show a page at several widths; give what was measured of each.

    Args:
        measure: JavaScript that defines ``measure``: from a frame to an object.
        scrollbars: a phone has none that take room.
    """
    source = escape(page)
    frames = "".join(f'<iframe width="{w}" height="900" style="border:0" srcdoc="{source}"></iframe>' for w in widths)
    harness = folder / "harness.html"
    script = f"<script>{measure}{_ON_LOAD}</script>"
    harness.write_text(f'<!DOCTYPE html><meta charset="utf-8"><body>{frames}{script}</body>', encoding="utf-8")
    bars = () if scrollbars else ("--hide-scrollbars",)
    dom = unescape(chromium(folder, *bars, "--virtual-time-budget=5000", "--dump-dom", harness.as_uri()))
    found: list[dict[str, Any]] = json.loads(dom[dom.index("[{") : dom.rindex("}]") + 2])
    return found
