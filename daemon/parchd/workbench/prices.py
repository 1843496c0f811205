"""What the user pays: from a TOML file of theirs. parchd brings no prices of its own."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import Any

from parchd.config.schema import suggestion
from parchd.config.toml_lines import Loc, key_lines
from parchd.contract import ConfigError, Problem
from parchd.workbench.parts import PARTS

KEYS = ("currency", "bought_unit", "parts", "tools")
PRICE_KEYS = ("price", "pack")
MOST = Decimal(10_000_000)
_A_PRICE = "a price: 12.50 or { price = 12.50, pack = 10 }"


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


def parse_prices(text: str, file: str) -> Prices:
    """Read a file of prices.

    Args:
        text: TOML with ``currency``, ``bought_unit``, ``[parts]`` and ``[tools]``; all may be missing.
        file: its name, for messages.

    Raises:
        ConfigError: with all that is wrong, line by line.

    >>> prices = parse_prices('currency = "EUR"\\n[parts]\\ncup = 9.50\\ntape = { price = 1, pack = 20 }', "p.toml")
    >>> prices.parts["cup"], prices.parts["tape"].pack
    (Price(amount=Decimal('9.50'), pack=None), 20)
    """
    try:
        content = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        hint = "text stands in double quotes, decimals have a point: cup = 9.50"
        raise ConfigError([Problem(file, None, "the whole file", str(error), "TOML", hint)]) from error
    reader = _Reader(file, key_lines(text))
    prices = reader.prices(content)
    if reader.problems:
        raise ConfigError(reader.problems)
    return prices


class _Reader:
    """Reads what it can and collects what is wrong."""

    def __init__(self, file: str, lines: Mapping[Loc, int]) -> None:
        self.problems: list[Problem] = []
        self._file = file
        self._lines = lines

    def prices(self, content: dict[str, Any]) -> Prices:
        self._known((), content, KEYS)
        currency = content.get("currency", "")
        if not isinstance(currency, str) or len(currency) > 8 or not currency.isprintable():
            self._wrong(("currency",), currency, 'a symbol or code of up to 8 letters, such as "EUR"')
            currency = ""
        parts, tools = self._table(content, "parts"), self._table(content, "tools")
        self._known(("parts",), parts, [part.key for part in PARTS])
        bought = content.get("bought_unit")
        return Prices(
            currency=currency,
            parts={key: self._price(("parts", key), value) for key, value in parts.items()},
            tools={name: self._amount(("tools", name), value, "a price of 0 or more") for name, value in tools.items()},
            bought_unit=None if bought is None else self._amount(("bought_unit",), bought, "a price of 0 or more"),
        )

    def _price(self, loc: Loc, value: Any) -> Price:
        if not isinstance(value, dict):
            return Price(self._amount(loc, value, _A_PRICE))
        self._known(loc, value, PRICE_KEYS)
        if "price" not in value:
            self._wrong(loc, None, _A_PRICE)
        pack = value.get("pack", 1)
        if type(pack) is not int or not 1 <= pack <= 100_000:
            self._wrong((*loc, "pack"), pack, "a whole number of 1 or more")
        return Price(self._amount((*loc, "price"), value.get("price", 0), _A_PRICE), value.get("pack"))

    def _amount(self, loc: Loc, value: Any, expected: str) -> Decimal:
        if type(value) in (int, Decimal) and 0 <= (amount := Decimal(value)) <= MOST:
            return amount
        hint = "without quotes, and with a point for decimals" if isinstance(value, str) else ""
        self._wrong(loc, value, expected, hint)
        return Decimal(0)

    def _table(self, content: dict[str, Any], name: str) -> dict[str, Any]:
        table = content.get(name, {})
        if isinstance(table, dict):
            return table
        self._wrong((name,), table, f"a table [{name}]")
        return {}

    def _known(self, loc: Loc, table: dict[str, Any], known: Iterable[str]) -> None:
        known = list(known)
        for key in table:
            if key not in known:
                hint = suggestion(key, known) or (_hint_of_title(key) if loc == ("parts",) else "")
                self._wrong((*loc, key), "an unknown name", f"one of {', '.join(known)}", hint, quoted=False)

    def _wrong(self, loc: Loc, found: Any, expected: str, hint: str = "", *, quoted: bool = True) -> None:
        shown = "nothing" if found is None else _shown(found) if quoted else found
        line = next((self._lines[loc[:end]] for end in range(len(loc), 0, -1) if loc[:end] in self._lines), None)
        self.problems.append(Problem(self._file, line, ".".join(map(str, loc)), shown, expected, hint))


def _hint_of_title(word: str) -> str:
    """Find the part whose key, title or note has a word.

    >>> _hint_of_title("PVC_pipe"), _hint_of_title("ceramic"), _hint_of_title("zzz")
    ('did you mean pipe?', 'did you mean cup?', 'what is paid once goes into [tools], under any name')
    """
    words = set(word.lower().replace("_", " ").replace("-", " ").split())
    for said in ("key", "title", "note"):
        for part in PARTS:
            if words & {w for w in str(getattr(part, said)).lower().replace(",", "").split() if len(w) > 2}:
                return f"did you mean {part.key}?"
    return "what is paid once goes into [tools], under any name"


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Decimal | int):
        return str(value)
    return f'"{value}"' if isinstance(value, str) else f"a {'table' if isinstance(value, dict) else 'list'}"


def parse_amount(text: str) -> Decimal | None:
    """Read a price that was typed; ``None`` if it is none.

    >>> parse_amount("9.50"), parse_amount(" 9,50 "), parse_amount("-1"), parse_amount("ten"), parse_amount("nan")
    (Decimal('9.50'), Decimal('9.50'), None, None, None)
    """
    try:
        amount = Decimal(text.strip().replace(",", "."))
    except InvalidOperation:
        return None
    return amount if amount.is_finite() and 0 <= amount <= MOST else None


def prices_toml(prices: Prices) -> str:
    """Write prices so that `parse_prices` reads the same.

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
    escaped = "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text.replace("\\", "\\\\"))
    return '"' + escaped.replace('"', '\\"') + '"'
