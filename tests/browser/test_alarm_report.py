"""The page of ``parchd alarm-report`` in a real browser: nothing is cut, words lie on no words, at any width."""

from pathlib import Path

import pytest

from parchd.clock import to_datetime
from parchd.report.page import report_page
from parchd.testing.alarm_history import ZONE, a_report
from parchd.testing.frames import measured

pytestmark = pytest.mark.needs("chromium")

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
"""
WIDTHS = (320, 390, 720, 1100)


def local(time_us: int) -> str:
    return to_datetime(time_us).astimezone(ZONE).strftime("%a %d %b %Y, %H:%M")


def test_the_page_is_whole_and_readable_at_every_width(tmp_path: Path) -> None:
    page = report_page(a_report(), "Quillmere Orchard", local)
    found = measured(tmp_path, page, WIDTHS, MEASURE)
    assert len(found) == len(WIDTHS)
    for width, one in zip(WIDTHS, found, strict=True):
        assert one["page"] <= width
        assert one["wide"] == []
        assert one["pictures"] == 5, "those that suit the width"
        assert one["cut"] == []
        assert one["upon"] == [], "words lie on words"
        assert one["least"] >= 10.0, "letters are large enough to read"
