"""Costs and break-even, worked out by hand."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.workbench.costs import Costs, break_even, costs_of, figure
from parchd.workbench.parts import Closure, Readout, needs_of
from parchd.workbench.price_file import parse_prices
from parchd.workbench.prices import Price, Prices
from parchd.workbench.words import cost_notes

HAND = """\
currency = "EUR"
bought_unit = 50
[parts]
cup = 10
pipe = 6.50
tee = 1.20
cap = { price = 9, pack = 4 }
gauge = 15.25
fitting = 0.80
boot = 0
epoxy = { price = 8, pack = 4 }
cement = 7
tape = 1
abrasive = 2
[tools]
pump = 60
saw = 12.40
"""


def costs(text: str = HAND, count: int = 6, spares: float = 0.0) -> Costs:
    needs = needs_of(count, 2, readout=Readout.GAUGE, closure=Closure.CAP, spares_percent=spares)
    return costs_of(needs, parse_prices(text, "prices.toml"), count)


def test_six_instruments_cost_what_was_added_up_by_hand() -> None:
    found = costs()
    totals = {line.need.part.key: line.total for line in found.lines}
    assert totals == {
        "cup": Decimal(60),
        "pipe": Decimal(13),
        "tee": Decimal("7.2"),
        "cap": Decimal(18),  # 6 caps are 2 packs of 4
        "gauge": Decimal("91.5"),
        "fitting": Decimal("4.8"),
        "boot": Decimal(0),
        "epoxy": Decimal(16),  # a can for 4 instruments: 2 cans for 6
        "cement": Decimal(7),
        "tape": Decimal(1),
        "abrasive": Decimal(2),
    }
    assert found.parts_total == Decimal("220.5")
    assert found.per_instrument == Decimal("36.75")
    assert found.tools_total == Decimal("72.4")
    assert figure(found.all_per_instrument) == "48.82"  # 292.90 / 6 = 48.8166...
    assert found.break_even is not None
    # 72.40 / (50 - 36.75) = 5.46: the sixth pays the tools back; 6 x 50 - 292.90 = 7.10
    assert (found.break_even.instruments, found.break_even.saved) == (6, Decimal("7.1"))
    assert list(cost_notes(found))[1:] == [
        "Break-even: 6 tensiometers, against a bought one at EUR 50.00; then what is paid once is back.",
        "Building 6 saves EUR 7.10; your hours are not counted.",
    ]


def test_spares_cost_as_much_as_what_is_built_in() -> None:
    assert costs(spares=10.0).parts_total == Decimal("220.5") + Decimal(10) + Decimal("1.2") + Decimal("15.25") + (
        Decimal("0.8")
    )  # the seventh cap is in the second pack


@pytest.mark.parametrize(
    ("tools", "per_instrument", "bought", "number"),
    [
        ("90", "40", "70", 3),  # 90 / 30
        ("91", "40", "70", 4),
        ("0", "40", "70", 1),
        ("10", "40", "70", 1),
        ("0", "70", "70", 1),
        ("0.01", "70", "70", None),
        ("90", "70.01", "70", None),
        ("0.10", "0.1", "0.2", 1),  # exactly one in decimals, more than one in binary fractions
    ],
)
def test_break_even_is_where_tools_are_paid_back(
    tools: str, per_instrument: str, bought: str, number: int | None
) -> None:
    assert break_even(Decimal(tools), Fraction(per_instrument), Decimal(bought)) == number


MONEY = st.decimals(0, 1000, places=2)


@given(MONEY, st.fractions(0, 1000, max_denominator=500), MONEY)
def test_at_break_even_building_costs_no_more_and_one_before_it_does(
    tools: Decimal, each: Fraction, bought: Decimal
) -> None:
    def is_dearer(number: int) -> bool:
        return Fraction(tools) + number * each > number * Fraction(bought)

    number = break_even(tools, each, bought)
    if number is None:
        assert is_dearer(10**9)
    else:
        assert not is_dearer(number)
        assert number == 1 or is_dearer(number - 1)


def test_without_a_bought_price_there_is_no_break_even_but_a_hint() -> None:
    found = costs(HAND.replace("bought_unit = 50\n", ""))
    assert found.break_even is None
    assert any("bought_unit" in note for note in cost_notes(found))


def test_a_part_without_a_price_makes_break_even_a_lower_bound() -> None:
    found = costs(HAND.replace("cup = 10\n", "").replace("pump = 60", "pump = 300"))
    assert found.unpriced == ("porous cup",)
    notes = " ".join(cost_notes(found))
    assert "Without a price: porous cup." in notes
    assert "Break-even: at least 14 tensiometers" in notes  # 312.40 / (50 - 26.75) = 13.4


def test_parts_as_dear_as_a_bought_one_never_pay() -> None:
    found = costs(HAND.replace("bought_unit = 50", "bought_unit = 36.75"))
    assert found.break_even is not None
    assert found.break_even.instruments is None
    notes = " ".join(cost_notes(found))
    assert "Break-even: never." in notes
    assert "Building 6 costs more than buying, by EUR 72.40" in notes


def test_tools_alone_are_no_price_of_parts() -> None:
    assert costs("bought_unit = 5\n[tools]\nsaw = 3\n").break_even is None


def test_a_pack_price_is_paid_as_often_as_packs_are_opened() -> None:
    needs = needs_of(9, 1, readout=Readout.TRANSDUCER, closure=Closure.CAP, spares_percent=0)
    found = costs_of(needs, Prices(parts={"input": Price(Decimal(22), 4)}), 9)
    assert [line.packs for line in found.lines if line.price] == [3]
