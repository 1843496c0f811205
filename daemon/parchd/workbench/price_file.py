"""Files of prices: read, with all that is wrong said at once."""

import tomllib
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from parchd.config.schema import suggestion
from parchd.config.toml_lines import Loc, key_lines
from parchd.contract import ConfigError, Problem
from parchd.workbench.parts import PARTS
from parchd.workbench.prices import Price, Prices, is_price

KEYS = ("currency", "bought_unit", "parts", "tools")
PRICE_KEYS = ("price", "pack")
_A_PRICE = "a price: 12.50 or { price = 12.50, pack = 10 }"


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
        if type(value) in (int, Decimal) and is_price(Decimal(value)):
            return Decimal(value)
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
