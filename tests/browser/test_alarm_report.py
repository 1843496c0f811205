"""The page of ``parchd alarm-report`` in a real browser: nothing is cut, words lie on no words, at any width."""

import json
import subprocess
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest

from parchd.clock import to_datetime
from parchd.report.page import report_page
from parchd.testing.alarm_history import ZONE, a_report

pytestmark = pytest.mark.needs("chromium")

CHROMIUM = (
    "chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-quic",
    "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
MEASURE = """
const measure = (frame) => {
  const inside = frame.contentDocument, width = frame.clientWidth;
  const seen = (e) => e.getClientRects().length > 0;
  const wide = [...inside.querySelectorAll("body *")].filter(
    (e) => seen(e) && e.getBoundingClientRect().right > width + 1 && !e.closest(".scroll")
  ).map((e) => e.outerHTML.slice(0, 120));
  const cut = [], upon = [], heights = [];
  const pictures = [...inside.querySelectorAll("svg")].filter(seen);
  pictures.forEach((picture) => {
    const edge = picture.getBoundingClientRect();
    const texts = [...picture.querySelectorAll("text")].map((e) => [e.textContent, e.getBoundingClientRect()]);
    texts.forEach(([text, r], i) => {
      heights.push(r.height);
      if (r.left < edge.left - 1 || r.right > edge.right + 1 || r.bottom > edge.bottom + 1) cut.push(text);
      texts.slice(i + 1).forEach(([other, s]) => {
        const x = Math.min(r.right, s.right) - Math.max(r.left, s.left);
        const y = Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top);
        if (x > 1 && y > 4) upon.push(text + " / " + other);
      });
    });
  });
  return {
    wide, upon, cut, page: inside.documentElement.scrollWidth, pictures: pictures.length, least: Math.min(...heights) };
};
const frames = [...document.querySelectorAll("iframe")];
window.onload = () => {
  document.body.textContent = JSON.stringify(frames.map(measure));
};
"""
WIDTHS = (320, 390, 720, 1100)


def local(time_us: int) -> str:
    return to_datetime(time_us).astimezone(ZONE).strftime("%a %d %b %Y, %H:%M")


def measured(folder: Path) -> list[dict[str, Any]]:
    """Show the page at several widths; give what was measured of each."""
    page = escape(report_page(a_report(), "Quillmere Orchard", local))
    frames = "".join(f'<iframe width="{w}" height="900" style="border:0" srcdoc="{page}"></iframe>' for w in WIDTHS)
    harness = folder / "harness.html"
    harness.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><body>{frames}<script>{MEASURE}</script></body>', encoding="utf-8"
    )
    done = subprocess.run(
        (*CHROMIUM, f"--user-data-dir={folder / 'profile'}", "--virtual-time-budget=5000", "--dump-dom",
         harness.as_uri()),
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    dom = unescape(done.stdout)
    found: list[dict[str, Any]] = json.loads(dom[dom.index("[{") : dom.rindex("}]") + 2])
    return found


def test_the_page_is_whole_and_readable_at_every_width(tmp_path: Path) -> None:
    found = measured(tmp_path)
    assert len(found) == len(WIDTHS)
    for width, one in zip(WIDTHS, found, strict=True):
        assert one["page"] <= width
        assert one["wide"] == []
        assert one["pictures"] == 5, "those that suit the width"
        assert one["cut"] == []
        assert one["upon"] == [], "words lie on words"
        assert one["least"] >= 10.0, "letters are large enough to read"
