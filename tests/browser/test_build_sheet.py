"""The page of ``parchd build-sheet`` in a real browser: it fits screens, and paper."""

import json
import re
import subprocess
from dataclasses import replace
from html import escape, unescape
from pathlib import Path

import pytest

from parchd.testing.sheets import PRICES, order_of, sheet_of
from parchd.workbench.page import sheet_page

pytestmark = pytest.mark.needs("chromium")

CHROMIUM = ("chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run")
PAGE = sheet_page(
    sheet_of(replace(order_of(150.0, 300.0, 600.0, 900.0), stock_mm=2000.0), PRICES, notes=("A note. " * 12,))
)
MEASURE = """
const frame = document.querySelector("iframe");
frame.onload = () => {
  const inside = frame.contentDocument, width = frame.clientWidth;
  const wide = [...inside.querySelectorAll("body *")].filter(
    (e) => e.getBoundingClientRect().right > width + 1 && !e.closest(".scroll")).map((e) => e.outerHTML.slice(0, 120));
  const cut = [...inside.querySelectorAll(".scroll")].filter((e) => e.scrollWidth > e.clientWidth + 1).length;
  const boxes = [...inside.querySelectorAll("input")].map((e) => e.getBoundingClientRect().width);
  document.body.textContent = JSON.stringify({
    wide, cut, least: Math.min(...boxes), page: inside.documentElement.scrollWidth, width });
};
"""


def chromium(folder: Path, *words: str) -> str:
    done = subprocess.run(
        (*CHROMIUM, f"--user-data-dir={folder / 'profile'}", *words),
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    return done.stdout


@pytest.mark.parametrize("width", [360, 390, 900])
def test_nothing_is_wider_than_the_screen(tmp_path: Path, width: int) -> None:
    harness = tmp_path / "harness.html"
    harness.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><body><iframe width="{width}" height="800" style="border:0" '
        f'srcdoc="{escape(PAGE)}"></iframe><script>{MEASURE}</script></body>',
        encoding="utf-8",
    )
    dom = chromium(tmp_path, "--virtual-time-budget=5000", "--dump-dom", harness.as_uri())
    found = json.loads(unescape(dom[dom.index("{") : dom.rindex("}") + 1]))
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
