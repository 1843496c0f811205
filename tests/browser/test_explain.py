"""The page of ``parchd explain`` in a real browser: nothing is cut, words lie on no words, at any width."""

from pathlib import Path

import pytest

from parchd.testing.explained import a_season, some_days
from parchd.testing.frames import measured
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_page import explain_page

pytestmark = pytest.mark.needs("chromium")

MEASURE = """
const measure = (frame) => {
  const inside = frame.contentDocument, width = frame.clientWidth;
  const seen = (e) => e.getClientRects().length > 0;
  const wide = [...inside.querySelectorAll("body *")].filter(
    (e) => seen(e) && e.getBoundingClientRect().right > width + 1 && !e.closest(".scroll")
  ).map((e) => e.outerHTML.slice(0, 120));
  const pictures = [...inside.querySelectorAll("svg")].filter(seen);
  const picture = pictures[0], edge = picture.getBoundingClientRect();
  const texts = [...picture.querySelectorAll("text")].map((e) => [e.textContent, e.getBoundingClientRect()]);
  const cut = texts.filter(([, r]) => r.left < edge.left - 1 || r.right > edge.right + 1 || r.bottom > edge.bottom + 1);
  const upon = [];
  texts.forEach(([a, r], i) => texts.slice(i + 1).forEach(([b, s]) => {
    const x = Math.min(r.right, s.right) - Math.max(r.left, s.left);
    const y = Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top);
    if (x > 1 && y > 4) upon.push(a + " / " + b);
  }));
  return {
    wide, upon, page: inside.documentElement.scrollWidth, pictures: pictures.length, cut: cut.map(([text]) => text),
    least: Math.min(...texts.map(([, r]) => r.height)), texts: texts.length };
};
"""
WIDTHS = (320, 390, 720, 1100)


@pytest.mark.parametrize("case", [some_days(), a_season()], ids=["days", "season"])
def test_the_picture_is_whole_and_readable_at_every_width(tmp_path: Path, case: Explained) -> None:
    found = measured(tmp_path, explain_page(case), WIDTHS, MEASURE)
    assert len(found) == len(WIDTHS)
    for width, one in zip(WIDTHS, found, strict=True):
        assert one["page"] <= width
        assert one["wide"] == []
        assert one["pictures"] == 1, "the one that suits the width"
        assert one["texts"] > 15
        assert one["cut"] == []
        assert one["upon"] == [], "words lie on words"
        assert one["least"] >= 10.0, "letters are large enough to read"
