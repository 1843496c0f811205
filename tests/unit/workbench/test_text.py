"""The sheet in the terminal.

It stands in ``tests/data/build_sheet.txt``: read the whole of it before you change a word.
``python tests/unit/workbench/test_text.py`` writes it anew.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from parchd.testing.sheets import PRICES, order_of, sheet_of
from parchd.workbench.geometry import USUAL
from parchd.workbench.lengths import Ruler
from parchd.workbench.parts import Closure, Readout
from parchd.workbench.text import sheet_text

GOLDEN = Path(__file__).parents[2] / "data" / "build_sheet.txt"


def golden() -> str:
    return sheet_text(sheet_of(order_of(), PRICES))


def test_the_whole_sheet_reads_as_it_was_reviewed() -> None:
    assert golden() == GOLDEN.read_text(encoding="utf-8")


@settings(max_examples=40, deadline=None)
@given(
    depths_mm=st.lists(st.integers(60, 2000), min_size=1, max_size=6),
    count=st.integers(1, 40),
    altitude_m=st.floats(-400, 6000),
    ruler=st.sampled_from(Ruler),
    readout=st.sampled_from(Readout),
    closure=st.sampled_from(Closure),
    prices=st.sampled_from(["", PRICES, "[parts]\ncup = 9999999.99\n[tools]\n" + f"{'pump' * 30} = 1"]),
)
def test_no_line_is_wider_than_a_terminal(
    depths_mm: list[int], count: int, altitude_m: float, ruler: Ruler, readout: Readout, closure: Closure, prices: str
) -> None:
    order = replace(
        order_of(*map(float, depths_mm), count=count, altitude_m=altitude_m),
        ruler=ruler, pattern=USUAL[ruler], readout=readout, closure=closure,
    )  # fmt: skip
    lines = sheet_text(sheet_of(order, prices)).splitlines()
    assert max(map(len, lines)) <= 80
    assert all(line == line.rstrip() and line.isascii() for line in lines)


def test_a_gauge_and_a_stopper_are_called_so_throughout() -> None:
    text = sheet_text(sheet_of(replace(order_of(), readout=Readout.GAUGE, closure=Closure.STOPPER)))
    assert "Put on the stopper." in " ".join(text.split())
    assert "Pull the boot over the gauge" in " ".join(text.split())
    assert "transducer" not in text


@pytest.mark.parametrize("words", ["COSTS", "--prices"])
def test_without_prices_it_says_how_to_give_them(words: str) -> None:
    assert words in sheet_text(sheet_of(order_of()))


def test_a_warning_stands_above_everything_else() -> None:
    text = sheet_text(sheet_of(order_of(1500.0, altitude_m=3400.0)))
    assert text.index("NOTE: At a depth of 150 cm") < text.index("ONE TENSIOMETER")


if __name__ == "__main__":
    GOLDEN.write_text(golden(), encoding="utf-8")
