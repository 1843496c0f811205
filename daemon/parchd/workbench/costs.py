"""What an order costs, and when it pays."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from math import ceil

from parchd.workbench.parts import Measure, Need
from parchd.workbench.prices import Price, Prices

_CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class CostLine:
    """One part of the order.

    Args:
        packs: how often the price is paid; 0 where there is no price.
        price: ``None``: the user gave none.
    """

    need: Need
    packs: int
    price: Price | None

    @property
    def total(self) -> Decimal | None:
        return None if self.price is None else self.packs * self.price.amount


@dataclass(frozen=True, slots=True)
class BreakEven:
    """When building pays against buying.

    Args:
        instruments: the smallest number for which tools and parts together cost no more than bought ones; ``None``:
            it never does, for the parts of one cost as much as a bought one, or more.
        saved: what building this order saves against buying; negative: what it costs more.
    """

    instruments: int | None
    saved: Decimal


@dataclass(frozen=True, slots=True)
class Costs:
    """The cost table.

    Args:
        currency: may be empty.
        lines: one for each part of the order.
        tools: what is paid once.
        instruments: how many are built.
        bought_unit: price of one bought instrument; ``None``: unknown.
    """

    currency: str
    lines: tuple[CostLine, ...]
    tools: tuple[tuple[str, Decimal], ...]
    instruments: int
    bought_unit: Decimal | None

    @property
    def parts_total(self) -> Decimal:
        return sum((line.total for line in self.lines if line.total is not None), Decimal(0))

    @property
    def tools_total(self) -> Decimal:
        return sum((amount for _, amount in self.tools), Decimal(0))

    @property
    def per_instrument(self) -> Decimal:
        """Parts, spares among them, by instrument; without tools. Exact to what a Decimal holds."""
        return self.parts_total / self.instruments

    @property
    def all_per_instrument(self) -> Decimal:
        return (self.parts_total + self.tools_total) / self.instruments

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Parts without a price: sums lack them."""
        return tuple(line.need.part.title for line in self.lines if line.price is None)

    @property
    def break_even(self) -> BreakEven | None:
        """Against the price of a bought instrument; ``None``: it is unknown, or there is no price of a part."""
        if self.bought_unit is None or all(line.price is None for line in self.lines):
            return None
        number = break_even(self.tools_total, Fraction(self.parts_total) / self.instruments, self.bought_unit)
        saved = self.bought_unit * self.instruments - self.parts_total - self.tools_total
        return BreakEven(number, saved)

    def money(self, amount: Decimal) -> str:
        """Write an amount with the currency.

        >>> Costs("EUR", (), (), 1, None).money(Decimal("12.345")), Costs("", (), (), 1, None).money(Decimal(3))
        ('EUR 12.35', '3.00')
        """
        return f"{self.currency} {figure(amount)}".strip()


def figure(amount: Decimal) -> str:
    """Write an amount to the hundredth, halves away from zero.

    >>> figure(Decimal("0.125")), figure(Decimal("1234.5"))
    ('0.13', '1234.50')
    """
    return f"{amount.quantize(_CENT, ROUND_HALF_UP):f}"


def break_even(tools: Decimal, per_instrument: Fraction, bought: Decimal) -> int | None:
    """Give the smallest number n of instruments with ``tools + n * per_instrument <= n * bought``.

    Returns:
        at least 1; ``None``: no number will do.

    >>> break_even(Decimal(90), Fraction(40), Decimal(70)), break_even(Decimal(91), Fraction(40), Decimal(70))
    (3, 4)
    >>> break_even(Decimal(0), Fraction(40), Decimal(70)), break_even(Decimal(5), Fraction(40), Decimal(40))
    (1, None)
    """
    saved_each = Fraction(bought) - per_instrument
    if saved_each <= 0:
        return 1 if tools == 0 and saved_each == 0 else None
    return max(1, ceil(Fraction(tools) / saved_each))


def costs_of(needs: Iterable[Need], prices: Prices, instruments: int) -> Costs:
    """Put the user's prices to the parts of an order."""
    lines = tuple(_line(need, prices.parts.get(need.part.key), instruments) for need in needs)
    return Costs(prices.currency, lines, tuple(prices.tools.items()), instruments, prices.bought_unit)


def _line(need: Need, price: Price | None, instruments: int) -> CostLine:
    if price is None:
        return CostLine(need, 0, None)
    if need.part.measure is not Measure.PACK:
        return CostLine(need, ceil(need.total / (price.pack or 1)), price)
    return CostLine(need, 1 if price.pack is None else ceil(instruments / price.pack), price)
