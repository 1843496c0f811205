"""The page of ``parchd build-sheet`` in a real browser: it fits screens, and paper."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from parchd.testing.frames import chromium, measured
from parchd.testing.sheets import PRICES, order_of, sheet_of
from parchd.workbench.page import sheet_page

pytestmark = pytest.mark.needs("chromium")

PAGE = sheet_page(
    sheet_of(replace(order_of(150.0, 300.0, 600.0, 900.0), stock_mm=2000.0), PRICES, notes=("A note. " * 12,))
)
MEASURE = """
const measure = (frame) => {
  const inside = frame.contentDocument, width = frame.clientWidth;
  const wide = [...inside.querySelectorAll("body *")].filter(
    (e) => e.getBoundingClientRect().right > width + 1 && !e.closest(".scroll")).map((e) => e.outerHTML.slice(0, 120));
  const cut = [...inside.querySelectorAll(".scroll")].filter((e) => e.scrollWidth > e.clientWidth + 1).length;
  const boxes = [...inside.querySelectorAll("input")].map((e) => e.getBoundingClientRect().width);
  return {
    wide, cut, least: Math.min(...boxes), page: inside.documentElement.scrollWidth, width };
};
"""


@pytest.mark.parametrize("width", [360, 390, 900])
def test_nothing_is_wider_than_the_screen(tmp_path: Path, width: int) -> None:
    (found,) = measured(tmp_path, PAGE, (width,), MEASURE)
    assert found["width"] == width
    assert found["page"] <= width
    assert found["wide"] == []
    assert found["cut"] == 0
    assert found["least"] >= 16


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("letter", (612, 792))])
def test_it_is_printed_on_a_few_pages_of_a4_and_letter(tmp_path: Path, paper: str, size: tuple[int, int]) -> None:
    sheet, pdf = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    sheet.write_text(PAGE.replace("</style>", f"@page {{ size: {paper}; }}</style>"), encoding="utf-8")
    chromium(tmp_path, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", sheet.as_uri())
    content = pdf.read_bytes()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {size}
    assert 3 <= len(re.findall(rb"/Type /Page\b", content)) <= 6
