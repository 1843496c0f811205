"""The page of findings says what the code says: every kind, its words, its consequences, its numbers."""

import re
from ast import literal_eval
from importlib import import_module
from pathlib import Path

import pytest

from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.diagnosis.words import WORDS, confidence_words, consequence_words, spoken

PAGE = (Path(__file__).parents[3] / "config" / "findings.md").read_text("utf-8")
NUMBERS = re.compile(r"(\w+)\.([A-Z_]+) = ([^;]+?)(?=;| -->)")
KINDS = pytest.mark.parametrize("kind", FindingKind)


def section(kind: FindingKind) -> str:
    after = PAGE.partition(f"\n## `{kind}`\n")[2]
    assert after, f"no section for {kind}"
    return after.partition("\n## ")[0]


def plain(text: str) -> str:
    """Text without marks and line breaks."""
    return " ".join(re.sub(r"[`\\]", "", text).split())


def test_headings_are_the_kinds_of_findings() -> None:
    assert re.findall(r"^## `([\w-]+)`$", PAGE, re.MULTILINE) == list(FindingKind)


def test_the_table_is_what_findings_do() -> None:
    rows = re.findall(r"^\| \[`([\w-]+)`\]\(#([\w-]+)\) \| (\w+) \| (\w+) \|$", PAGE, re.MULTILINE)
    assert rows == [(kind, kind, one.flag.word, one.trust.value) for kind, one in CONSEQUENCES.items()]


@KINDS
def test_a_section_has_the_words_that_messages_have(kind: FindingKind) -> None:
    words, text = WORDS[kind], plain(section(kind))
    assert words.title in text.lower() or words.title in text
    for said in (words.meaning, *words.doing, words.trust_again, consequence_words(kind)):
        assert plain(spoken(said)) in text


@KINDS
def test_a_section_says_how_it_looks_and_how_it_is_recognised(kind: FindingKind) -> None:
    for part in ("*In the record:*", "*How it is recognised:*", "*What to do:*", "*Trusted again:*"):
        assert part in section(kind)


@KINDS
def test_the_numbers_of_a_section_are_those_of_the_code(kind: FindingKind) -> None:
    """A comment at its end names the constants behind them: change both."""
    text, _, comment = section(kind).partition("<!-- ")
    for module, name, value in NUMBERS.findall(comment):
        assert getattr(import_module(f"parchd.diagnosis.{module}"), name) == literal_eval(value), f"{module}.{name}"
        assert literal_eval(value) == 0 or has_number(text, literal_eval(value)), f"{module}.{name}"


def test_most_sections_have_numbers() -> None:
    assert sum("<!-- " in section(kind) for kind in FindingKind) >= len(FindingKind) - 3
    assert len(NUMBERS.findall(PAGE)) > 60


def has_number(text: str, value: object) -> bool:
    """Whether a text has a number, or each of several: as it is, in per cent, inverted, in other units of time."""
    if isinstance(value, tuple):
        return all(has_number(text, one) for one in value)
    assert isinstance(value, int | float)
    size = abs(value)
    ways = (size, 100 * size, 1 / size, size / 24, size / 60, size / 86_400, size / 3.6e9)
    said = {float(number) for number in re.findall(r"\d+(?:\.\d+)?(?:e-?\d+)?", text)}
    return any(abs(way - number) <= 1e-9 * max(way, 1.0) for way in ways for number in said)


def test_words_of_confidence_begin_where_the_page_says() -> None:
    assert '"nearly certain" from 95 % on, "likely" from 75 %, "possible" below' in plain(PAGE)
    assert [confidence_words(x) for x in (0.95, 0.9499, 0.75, 0.7499)] == [
        "nearly certain", "likely", "likely", "possible",
    ]  # fmt: skip
