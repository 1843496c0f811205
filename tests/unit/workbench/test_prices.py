"""Files of prices: read, refused kindly, written."""

import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import ConfigError, Problem
from parchd.workbench.parts import PARTS
from parchd.workbench.price_file import parse_prices
from parchd.workbench.prices import Price, Prices, parse_amount, prices_toml


def problems(text: str) -> list[Problem]:
    with pytest.raises(ConfigError) as caught:
        parse_prices(text, "prices.toml")
    return list(caught.value.problems)


def problem(text: str) -> Problem:
    (only,) = problems(text)
    return only


def test_prices_are_read_exactly_as_they_are_written() -> None:
    prices = parse_prices(
        'currency = "EUR"\nbought_unit = 160\n[parts]\ncup = 9.10\ntape = { price = 1.3, pack = 20 }\n'
        '[tools]\n"hand pump" = 44.95\n',
        "prices.toml",
    )
    assert prices == Prices(
        "EUR",
        {"cup": Price(Decimal("9.10")), "tape": Price(Decimal("1.3"), 20)},
        {"hand pump": Decimal("44.95")},
        Decimal(160),
    )


def test_a_file_without_prices_is_no_error_and_no_prices() -> None:
    assert not parse_prices("", "prices.toml")
    assert not parse_prices('currency = "EUR"', "prices.toml")
    assert parse_prices("[parts]\ncup = 0", "prices.toml")


@pytest.mark.parametrize(
    ("key", "hint"),
    [
        ("cups", "did you mean cup?"),
        ("transducers", "did you mean transducer?"),
        ("ceramic", "did you mean cup?"),
        ("vacuum-gauge", "did you mean gauge?"),
        ("saw", "what is paid once goes into [tools], under any name"),
    ],
)
def test_an_unknown_part_is_named_with_its_line_and_a_suggestion(key: str, hint: str) -> None:
    found = problem(f"[parts]\npipe = 3\n{key} = 2\n")
    assert (found.file, found.line, found.key, found.hint) == ("prices.toml", 3, f"parts.{key}", hint)
    assert "transducer" in found.expected


@pytest.mark.parametrize(
    ("text", "key", "found"),
    [
        ("[parts]\ncup = -1", "parts.cup", "-1"),
        ("[parts]\ncup = true", "parts.cup", "true"),
        ("[parts]\ncup = nan", "parts.cup", "NaN"),
        ("[parts]\ncup = inf", "parts.cup", "Infinity"),
        ("[parts]\ncup = [1]", "parts.cup", "a list"),
        ("[parts]\ncup = { pack = 2 }", "parts.cup", "nothing"),
        ("[parts]\ncup = { price = 2, pack = 0 }", "parts.cup.pack", "0"),
        ("[parts]\ncup = { price = 2, pack = 1.5 }", "parts.cup.pack", "1.5"),
        ("[parts]\ncup = { price = 2, pack = true }", "parts.cup.pack", "true"),
        ("[tools]\nsaw = -3", "tools.saw", "-3"),
        ("[tools]\nsaw = { price = 3 }", "tools.saw", "a table"),
        ("bought_unit = -3", "bought_unit", "-3"),
        ("parts = 3", "parts", "3"),
        ("currency = 3", "currency", "3"),
        ('currency = "pounds sterling"', "currency", '"pounds sterling"'),
        ('currency = "a\\tb"', "currency", '"a\tb"'),
    ],
)
def test_what_is_no_price_is_named(text: str, key: str, found: str) -> None:
    said = problem(text)
    assert (said.key, said.found) == (key, found)
    assert said.expected


def test_a_price_in_quotes_is_hinted_at() -> None:
    assert problem('[parts]\ncup = "9,50"').hint == "without quotes, and with a point for decimals"


def test_all_that_is_wrong_is_said_at_once() -> None:
    assert [p.line for p in problems("bought = 1\n[parts]\ncups = 2\ntee = -1\n[tool]\n")] == [1, 5, 3, 4]


def test_what_is_no_toml_is_said_with_the_parsers_words() -> None:
    found = problem("[parts]\ncup = 9,50\n")
    assert "line 2" in found.found
    assert "cup = 9.50" in found.hint


def test_the_documented_file_is_read_and_names_every_part() -> None:
    page = (Path(__file__).parents[3] / "config" / "commands.md").read_text(encoding="utf-8")
    (example,) = [block.partition("```")[0] for block in page.split("```toml\n")[1:] if "[parts]" in block]
    prices = parse_prices(example, "prices.toml")
    assert prices.parts["epoxy"] == Price(Decimal("8.90"), 10)
    assert {part.key for part in PARTS} <= set(re.findall(r"[a-z]+", example))


AMOUNTS = st.decimals(0, 10_000_000, places=2)
NAMES = st.text(min_size=1, max_size=20)  # surrogates are left out by hypothesis already


@given(
    st.builds(
        Prices,
        currency=st.sampled_from(["", "EUR", "€", '"', "\\", "kr."]),
        parts=st.dictionaries(
            st.sampled_from([part.key for part in PARTS]),
            st.builds(Price, amount=AMOUNTS, pack=st.none() | st.integers(1, 100_000)),
        ),
        tools=st.dictionaries(NAMES, AMOUNTS),
        bought_unit=st.none() | AMOUNTS,
    )
)
def test_what_is_written_reads_back_the_same(prices: Prices) -> None:
    assert parse_prices(prices_toml(prices), "prices.toml") == prices


@pytest.mark.parametrize("typed", ["", "ten", "1/2", "-0.01", "nan", "1e9", "1.2.3"])
def test_what_is_typed_and_is_no_price_is_none(typed: str) -> None:
    assert parse_amount(typed) is None
