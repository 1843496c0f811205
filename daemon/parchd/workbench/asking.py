"""Questions in a plain terminal: what is built, and what it costs."""

from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import TypeVar

from parchd.workbench.errors import SheetError
from parchd.workbench.lengths import Ruler, parse_altitude_m
from parchd.workbench.parts import Measure, Need
from parchd.workbench.prices import Price, Prices, parse_amount

Ask = Callable[[str], str | None]
"""Shows a question and gives the answer, stripped; ``None``: nobody answers any more (Ctrl-D)."""

Say = Callable[[str], None]

AnswerT = TypeVar("AnswerT")

_FOR_ONE = {Measure.PIECE: "each", Measure.STOCK: "a length", Measure.INPUT: "each", Measure.PACK: "for all"}
_LONGEST_CURRENCY = 8


class Interview:
    """Asks until an answer can be used; Enter skips a price."""

    def __init__(self, ask: Ask, say: Say) -> None:
        self._ask = ask
        self._say = say
        self._over = False

    def depths_mm(self, ruler: Ruler) -> list[float]:
        """Ask for the depths; one that comes twice is built twice."""
        example = "30 60" if ruler is Ruler.CM else "12 24"
        return self._need(
            f"Depths to the middle of the cup, {ruler.value} (such as {example}): ",
            lambda answer: _depths(answer, ruler),
            "no depth was given: name one with --depth",
        )

    def each(self) -> int:
        return self._need("How many of each: ", _count, "it was not said how many to build: --each says it")

    def altitude_m(self) -> float:
        return self._need(
            "Altitude of the site, m (1400ft for feet): ", parse_altitude_m, "no altitude was given: --altitude"
        )

    def prices(self, needs: Iterable[Need]) -> Prices:
        """Ask for all prices; what is not answered is left out."""
        self._say(
            "What does it cost? Enter skips a question, Ctrl-D skips all that are left.\n"
            "12.50 is a price; 12.50/10 is the price of a pack of 10, or of a can for 10."
        )
        currency = self._optional("Currency (such as EUR or $): ", _currency) or ""
        parts: dict[str, Price] = {}
        for need in needs:
            price = self._optional(f"  {need.part.title}, {_FOR_ONE[need.part.measure]} ({need.text}): ", _price)
            if price is not None:
                parts[need.part.key] = price
        tools = self._tools()
        bought = self._optional("Price of one bought tensiometer that does the same: ", _amount)
        return Prices(currency, parts, tools, bought)

    def file_name(self) -> str:
        """Ask where to keep the prices; empty: nowhere."""
        return self._optional("Keep these prices for --prices in a file (name, or Enter): ", str) or ""

    def _tools(self) -> dict[str, Decimal]:
        tools: dict[str, Decimal] = {}
        question = "Tools and other things paid once, one a line (such as: hand pump 45): "
        while (tool := self._optional(question, _tool)) is not None:
            name, amount = tool
            tools[name] = amount
            question = "  and: "
        return tools

    def _need(self, question: str, parse: Callable[[str], AnswerT], missing: str) -> AnswerT:
        while (answer := self._ask(question)) is not None:
            parsed = self._parsed(answer, parse)
            if parsed is not None:
                return parsed
        raise SheetError(missing)

    def _optional(self, question: str, parse: Callable[[str], AnswerT]) -> AnswerT | None:
        while not self._over:
            answer = self._ask(question)
            self._over = answer is None
            if not answer:
                return None
            parsed = self._parsed(answer, parse)
            if parsed is not None:
                return parsed
        return None

    def _parsed(self, answer: str, parse: Callable[[str], AnswerT]) -> AnswerT | None:
        try:
            return parse(answer)
        except SheetError as error:
            self._say(f"  {error}")
            return None


def _depths(answer: str, ruler: Ruler) -> list[float]:
    depths = [ruler.parse_mm(word) for word in answer.replace(";", " ").split()]
    if not depths or min(depths) <= 0.0:
        raise SheetError("depths are more than 0, with a blank between them")
    return depths


def _count(answer: str) -> int:
    if not answer.isdecimal() or int(answer) < 1:
        raise SheetError("a whole number of 1 or more, please")
    return int(answer)


def _currency(answer: str) -> str:
    if len(answer) > _LONGEST_CURRENCY or not answer.isprintable():
        raise SheetError(f"a symbol or code of up to {_LONGEST_CURRENCY} letters, please")
    return answer


def _amount(answer: str) -> Decimal:
    amount = parse_amount(answer)
    if amount is None:
        raise SheetError(f"{answer!r} is no price: write 12.50")
    return amount


def _price(answer: str) -> Price:
    """
    >>> _price("9,50"), _price("12/10")
    (Price(amount=Decimal('9.50'), pack=None), Price(amount=Decimal('12'), pack=10))
    """
    amount, slash, pack = answer.partition("/")
    return Price(_amount(amount), _count(pack.strip()) if slash else None)


def _tool(answer: str) -> tuple[str, Decimal]:
    """
    >>> _tool("hand pump 45")
    ('hand pump', Decimal('45'))
    """
    name, _, amount = answer.rpartition(" ")
    if not name.strip():
        raise SheetError("a name and its price, please, such as: hand pump 45")
    return name.strip(), _amount(amount)
