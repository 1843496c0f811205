"""Questions, and answers good and bad."""

from collections.abc import Iterable
from decimal import Decimal

import pytest

from parchd.workbench.asking import Interview
from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import Ruler
from parchd.workbench.parts import Closure, Need, Readout, needs_of
from parchd.workbench.prices import Price, Prices

NEEDS = needs_of(6, 2, readout=Readout.GAUGE, closure=Closure.CAP, spares_percent=10)


class Person:
    """Answers questions in order, and then no more; keeps what was asked and said."""

    def __init__(self, *answers: str) -> None:
        self.asked: list[str] = []
        self.heard: list[str] = []
        self._answers = list(answers)

    def ask(self, question: str) -> str | None:
        self.asked.append(question)
        return self._answers.pop(0) if self._answers else None

    @property
    def interview(self) -> Interview:
        return Interview(self.ask, self.heard.append)


def answers(given: dict[str, str], needs: Iterable[Need] = NEEDS) -> list[str]:
    return [given.get(need.part.key, "") for need in needs]


def test_all_prices_are_asked_for_in_the_order_of_building() -> None:
    person = Person("€", *answers({"cup": "9,50", "epoxy": "8.90/10"}), "hand pump 45", "saw 18", "", "120")
    assert person.interview.prices(NEEDS) == Prices(
        "€",
        {"cup": Price(Decimal("9.50")), "epoxy": Price(Decimal("8.90"), 10)},
        {"hand pump": Decimal(45), "saw": Decimal(18)},
        Decimal(120),
    )
    assert person.asked[1] == "  porous cup, each (7 pieces): "
    assert person.asked[2] == "  plastic pipe, rigid, a length (2 lengths): "
    assert len(person.asked) == 1 + len(NEEDS) + 3 + 1


def test_enter_leaves_everything_out() -> None:
    prices = Person(*[""] * 20).interview.prices(NEEDS)
    assert not prices


def test_ctrl_d_ends_all_questions_and_keeps_the_answers() -> None:
    person = Person("EUR", "9.50")
    assert person.interview.prices(NEEDS) == Prices("EUR", {"cup": Price(Decimal("9.50"))}, {}, None)
    assert len(person.asked) == 3


@pytest.mark.parametrize(
    ("wrong", "said"), [("ten", "is no price"), ("-1", "is no price"), ("5/0", "whole number"), ("5/x", "whole number")]
)
def test_an_answer_that_is_no_price_is_said_and_asked_again(wrong: str, said: str) -> None:
    person = Person("", wrong, "9.50")
    assert person.interview.prices(NEEDS).parts == {"cup": Price(Decimal("9.50"))}
    assert said in person.heard[-1]
    assert person.asked[1] == person.asked[2]


def test_a_tool_needs_a_name_and_a_price() -> None:
    person = Person("", *answers({}), "45", "pump forty", "pump 45", "", "")
    assert person.interview.prices(NEEDS).tools == {"pump": Decimal(45)}
    assert "a name and its price" in person.heard[1]
    assert "is no price" in person.heard[2]


def test_depths_count_and_altitude_are_asked_until_they_can_be_used() -> None:
    person = Person("", "deep", "30 -5", "30; 60 24in", "0", "two", "3", "high", "1400ft")
    interview = person.interview
    assert interview.depths_mm(Ruler.CM) == pytest.approx([300.0, 600.0, 609.6])
    assert interview.each() == 3
    assert interview.altitude_m() == pytest.approx(426.72)
    assert len(person.heard) == 6


def test_who_gives_no_depth_gets_no_sheet() -> None:
    with pytest.raises(SheetError, match="--depth"):
        Person().interview.depths_mm(Ruler.INCH)
    with pytest.raises(SheetError, match="--each"):
        Person().interview.each()
    with pytest.raises(SheetError, match="--altitude"):
        Person().interview.altitude_m()


def test_a_currency_is_short() -> None:
    person = Person("pieces of eight", "$", *answers({}))
    assert person.interview.prices(NEEDS).currency == "$"
    assert "up to 8" in person.heard[1]
