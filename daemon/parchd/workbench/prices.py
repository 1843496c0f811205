"""What the user pays. parchd brings no prices of its own."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from types import MappingProxyType

MOST = Decimal(10_000_000)


@dataclass(frozen=True, slots=True)
class Price:
    """A price and what it buys: so many pieces, lengths or inputs; of a consumable, enough for so many tensiometers.

    Args:
        pack: ``None``: one piece; of a consumable, enough for all.
    """

    amount: Decimal
    pack: int | None = None


@dataclass(frozen=True, slots=True)
class Prices:
    """What the user pays.

    Args:
        currency: a symbol or code of the user's choice; may be empty.
        parts: prices by the key of the part.
        tools: what is paid once, whatever the number of instruments; the user's own names.
        bought_unit: price of one bought instrument; ``None``: unknown.
    """

    currency: str = ""
    parts: Mapping[str, Price] = field(default_factory=lambda: MappingProxyType({}))
    tools: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))
    bought_unit: Decimal | None = None

    def __bool__(self) -> bool:
        return bool(self.parts or self.tools or self.bought_unit is not None)


def is_price(amount: Decimal) -> bool:
    """Tell whether a number can be a price."""
    return amount.is_finite() and 0 <= amount <= MOST


def parse_amount(text: str) -> Decimal | None:
    """Read a price that was typed; ``None`` if it is none.

    >>> parse_amount("9.50"), parse_amount(" 9,50 "), parse_amount("-1"), parse_amount("ten"), parse_amount("nan")
    (Decimal('9.50'), Decimal('9.50'), None, None, None)
    """
    try:
        amount = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        return None
    return amount if is_price(amount) else None


def prices_toml(prices: Prices) -> str:
    """Write prices so that `parchd.workbench.price_file.parse_prices` reads the same.

    >>> print(prices_toml(Prices("EUR", {"cup": Price(Decimal("9.50"), 2)}, {"hand saw": Decimal(20)})), end="")
    currency = "EUR"
    <BLANKLINE>
    [parts]
    cup = { price = 9.50, pack = 2 }
    <BLANKLINE>
    [tools]
    "hand saw" = 20
    """
    head = [f"currency = {_quoted(prices.currency)}"]
    if prices.bought_unit is not None:
        head.append(f"bought_unit = {prices.bought_unit:f}")
    parts = [f"{key} = {_price_toml(price)}" for key, price in prices.parts.items()]
    tools = [f"{_quoted(name)} = {amount:f}" for name, amount in prices.tools.items()]
    blocks = [head, ["[parts]", *parts] if parts else [], ["[tools]", *tools] if tools else []]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _price_toml(price: Price) -> str:
    return f"{price.amount:f}" if price.pack is None else f"{{ price = {price.amount:f}, pack = {price.pack} }}"


def _quoted(text: str) -> str:
    escaped = "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in text.replace("\\", "\\\\"))
    return '"' + escaped.replace('"', '\\"') + '"'
