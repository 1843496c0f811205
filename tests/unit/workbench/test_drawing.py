"""The drawing is to scale, says its numbers, and stays inside of its frame."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from parchd.workbench.drawing import LEAST_MM, SCALES, TALLEST_MM, WIDTH_MM, drawing, scales_for, spread
from parchd.workbench.geometry import USUAL, Instrument
from parchd.workbench.lengths import Ruler
from parchd.workbench.parts import Closure, Readout

DEPTHS_MM = (100.0, 300.0, 600.0, 1200.0, 2700.0)


def drawn(
    one: Instrument, ruler: Ruler = Ruler.CM, readout: Readout = Readout.TRANSDUCER, closure: Closure = Closure.CAP
) -> ElementTree.Element:
    (scale,) = scales_for([one])
    return ElementTree.fromstring(drawing(one, scale, ruler, readout, closure))


def levels(element: ElementTree.Element) -> tuple[float, float]:
    return float(element.attrib["y1"]), float(element.attrib["y2"])


def of_kind(svg: ElementTree.Element, kind: str) -> list[ElementTree.Element]:
    return [element for element in svg.iter() if element.get("class") == kind]


@pytest.mark.parametrize("depth_mm", DEPTHS_MM)
def test_every_dimension_line_is_as_long_as_what_it_measures(depth_mm: float) -> None:
    one = Instrument(depth_mm, 1)
    (scale,) = scales_for([one])
    lengths = [(end - start) * scale for start, end in map(levels, of_kind(drawn(one), "size-line"))]
    expected = [
        one.height_mm, one.depth_mm, one.stands_mm, one.ground_mark_mm, one.pattern.top_mm, one.lower_mm,
        one.pattern.cup_mm,
    ]  # fmt: skip
    assert lengths == pytest.approx(expected, abs=0.011 * scale)  # levels are written to 0.01 mm of paper


@pytest.mark.parametrize("depth_mm", DEPTHS_MM)
def test_the_tube_itself_is_drawn_to_scale_with_the_ground_where_its_mark_is(depth_mm: float) -> None:
    one = Instrument(depth_mm, 1)
    (scale,), svg = scales_for([one]), drawn(one)
    top, lower = of_kind(svg, "tube")
    assert float(top.attrib["height"]) * scale == pytest.approx(one.pattern.top_mm, abs=0.006 * scale)
    assert float(lower.attrib["height"]) * scale == pytest.approx(one.lower_mm, abs=0.006 * scale)
    (ground,) = of_kind(svg, "ground")
    below = float(lower.attrib["y"]) + float(lower.attrib["height"]) - levels(ground)[0]
    assert below * scale == pytest.approx(one.ground_mark_mm, abs=0.02 * scale)


def words(svg: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in svg.iter("text")]


def test_numbers_are_in_the_makers_unit() -> None:
    in_cm = " | ".join(words(drawn(Instrument(600.0, 1))))
    for said in ("height 79 cm", "depth 60 cm", "18 cm", "mark 57 cm", "10 cm", "75 cm", "6 cm"):
        assert said in in_cm
    in_inches = " | ".join(words(drawn(Instrument(24 * 25.4, 1, USUAL[Ruler.INCH]), Ruler.INCH)))
    for said in ("depth 24 in", "30 in", "4 in", "2 1/2 in", "mark 22 3/4 in"):
        assert said in in_inches
    assert "cm" not in in_inches


@pytest.mark.parametrize("readout", Readout)
@pytest.mark.parametrize("closure", Closure)
def test_what_is_drawn_is_named(readout: Readout, closure: Closure) -> None:
    said = words(drawn(Instrument(600.0, 1), readout=readout, closure=closure))
    assert {readout.value, closure.value, "cup", "lower tube", "top piece", "ground mark"} <= set(said)


@pytest.mark.parametrize("depth_mm", DEPTHS_MM)
def test_nothing_is_drawn_outside_of_the_frame(depth_mm: float) -> None:
    svg = drawn(Instrument(depth_mm, 1))
    height = float(svg.attrib["viewBox"].split()[3])
    for element in svg.iter():
        for name, value in element.attrib.items():
            if re.fullmatch(r"[xy][12]?|c[xy]", name):
                assert 0.0 <= float(value) <= (WIDTH_MM if "x" in name else height), element.attrib


@pytest.mark.parametrize("depth_mm", DEPTHS_MM)
def test_labels_do_not_lie_on_each_other(depth_mm: float) -> None:
    svg = drawn(Instrument(depth_mm, 1))
    levels_mm = sorted(float(t.attrib["y"]) for t in svg.iter("text") if t.get("class") != "mid")
    assert all(second - first >= 2.7 for first, second in pairwise(levels_mm))


def test_a_sheet_has_one_scale_that_its_longest_instrument_fits() -> None:
    assert scales_for([Instrument(depth, 1) for depth in (300.0, 600.0)]) == [10, 10]  # 945 mm on 110 mm of paper


def test_a_short_one_beside_a_long_one_is_drawn_large_enough_to_be_read() -> None:
    short, long = Instrument(150.0, 1), Instrument(1800.0, 1)
    scales = scales_for([short, long])
    assert scales == [12, 20]
    for one, scale in zip((short, long), scales, strict=True):
        assert LEAST_MM <= (one.length_mm + 15.0) / scale <= TALLEST_MM
    assert scales_for([Instrument(9000.0, 1)])[0] in SCALES


@pytest.mark.parametrize("depth_mm", [100.0, 300.0, 600.0, 1200.0, 1800.0])
def test_the_line_of_the_ground_strikes_no_label_out(depth_mm: float) -> None:
    svg = drawn(Instrument(depth_mm, 1))
    ((level, _),) = map(levels, of_kind(svg, "ground"))
    baselines = [float(t.attrib["y"]) for t in svg.iter("text") if t.get("class") != "mid"]
    assert not [baseline for baseline in baselines if baseline - 2.0 < level < baseline + 0.5]


def test_labels_are_moved_down_only_as_far_as_needed() -> None:
    assert spread([0.0, 1.0, 1.5, 20.0], gap=2.0, low=-5.0) == [0.0, 2.0, 4.0, 20.0]
    assert spread([-3.0], gap=2.0, low=1.0) == [1.0]
