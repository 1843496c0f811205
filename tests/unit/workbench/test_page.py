"""The page: well-formed, complete, and alone."""

import re
from collections.abc import Callable
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from parchd.testing.sheets import PRICES, order_of, sheet_of
from parchd.workbench.geometry import USUAL
from parchd.workbench.lengths import Ruler
from parchd.workbench.limits import Site
from parchd.workbench.page import sheet_page
from parchd.workbench.parts import Closure, Readout
from parchd.workbench.sheet import Order, Sheet
from parchd.workbench.steps import build_steps, install_steps, proof_steps

ODD = '<b>"Quill & Mere"</b>'


def page(sheet: Sheet) -> ElementTree.Element:
    text = sheet_page(sheet)
    assert text.startswith("<!DOCTYPE html>\n")
    return ElementTree.fromstring(text)


def said(element: ElementTree.Element) -> str:
    return re.sub(r"\s+", " ", "".join(element.itertext()))


def priced() -> Sheet:
    return sheet_of(order_of(), PRICES)


def in_inches() -> Sheet:
    order = Order({8 * 25.4: 4, 36 * 25.4: 1}, Site("", 1900.0), Ruler.INCH, USUAL[Ruler.INCH], Readout.GAUGE,
                  Closure.STOPPER, 3048.0, 3.175, 0.0)  # fmt: skip
    return sheet_of(order)


SHEETS = pytest.mark.parametrize("make", [priced, in_inches])


@SHEETS
def test_it_is_well_formed_and_names_nothing_outside_of_itself(make: Callable[[], Sheet]) -> None:
    root = page(make())
    for element in root.iter():
        assert element.tag not in ("script", "link", "img", "iframe", "object", "a", "base", "form")
        assert not {"src", "href", "srcset", "action", "data"} & element.attrib.keys()
        assert not any(name.startswith("on") for name in element.attrib)
    text = sheet_page(make())
    assert not re.search(r"https?:|//[a-z]|url\(|@import", text.replace("<!DOCTYPE html>", ""))


@SHEETS
def test_each_part_cut_and_step_has_a_box_to_tick_with_a_name(make: Callable[[], Sheet]) -> None:
    sheet = make()
    boxes = [element for element in page(sheet).iter("input") if element.get("type") == "checkbox"]
    readout, closure = sheet.order.readout, sheet.order.closure
    steps = [
        step for make_steps in (build_steps, proof_steps, install_steps) for step in make_steps(readout, closure)
        if step.ticked
    ]  # fmt: skip
    tools = sheet.costs.tools if sheet.costs else ()
    assert len(boxes) == len(sheet.needs) + len(sheet.plan.grouped()) + len(steps) + len(tools)
    assert all(box.get("aria-label") for box in boxes)


@SHEETS
def test_it_carries_all_that_the_maker_needs(make: Callable[[], Sheet]) -> None:
    sheet = make()
    root = page(sheet)
    text, written = said(root), sheet.order.ruler.number
    for row in sheet.rows:
        one = row.instrument
        for length in (one.depth_mm, one.lower_mm, one.ground_mark_mm, one.height_mm):
            assert written(length) in text
        assert f"{row.reach.head_kpa:.2f}" in text
        assert f"{row.reach.usable_kpa:.1f}" in text
    assert len(list(root.iter("svg"))) == len(sheet.rows)
    for words in ("2026-05-14", "air at", "Wait 24 hours after filling", "at least 20 kPa*, 30 is good*"):
        assert words in text
    (record,) = [table for table in root.iter("table") if table.get("class") == "record"]
    assert len(list(record.iter("tr"))) == 1 + sheet.count


@SHEETS
def test_every_caution_is_there_in_a_box_of_its_own(make: Callable[[], Sheet]) -> None:
    cautions = " ".join(said(p) for p in page(make()).iter("p") if p.get("class") == "caution")
    for word in ("loves", "entilation or a respirator", "ye protection", "Clamp the pipe", "Hand-tighten only",
                 "labels of the products", "rules that hold where you live"):  # fmt: skip
        assert word in cautions


def test_the_cost_table_adds_up_to_what_it_says() -> None:
    sheet = priced()
    assert sheet.costs is not None
    table = next(t for t in page(sheet).iter("table") if "Sum (EUR)" in said(t))
    sums = [(said(row[1]), row[3].text or "") for row in table.iter("tr") if row.get("class") == "sum"]
    cells = [
        float(row[3].text or "")
        for row in table.iter("tr")
        if row.get("class") != "sum" and row[0].tag == "td" and not said(row[2]).startswith("once")
    ]
    assert sums[0] == ("Parts", f"{sum(cells):.2f}")
    assert float(sums[1][1]) == pytest.approx(sum(cells) + 45 + 18)


def test_names_that_look_like_markup_stay_text() -> None:
    sheet = sheet_of(order_of(name=ODD), PRICES.replace('"hand vacuum pump"', "'<i>&'"), notes=("A <note> & more.",))
    text = said(page(sheet))
    assert f"{ODD}, 420 m" in text
    assert "<i>&" in text
    assert "A <note> & more." in text


def test_a_site_without_a_name_has_a_line_to_write_on() -> None:
    assert "Site: ____" in said(page(in_inches()))


def test_prices_that_are_missing_are_said_on_the_screen_only() -> None:
    (hint,) = [p for p in page(in_inches()).iter("p") if "No costs" in said(p)]
    assert "screen" in hint.attrib["class"].split()


def test_a_pipe_without_offcut_has_none_in_its_picture() -> None:
    order = replace(order_of(300.0, count=1), stock_mm=553.0)  # 450 + 3 + 100
    bars = [d for d in page(sheet_of(order)).iter("div") if d.get("class") == "stick"]
    assert [len(bar) for bar in bars] == [2]
