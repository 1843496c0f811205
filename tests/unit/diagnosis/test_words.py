"""What findings say to people: for every kind, with commands that exist and cautions where hands are at risk."""

import argparse
import re
import shlex

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.cli.main import build_parser
from parchd.contract import Flag
from parchd.diagnosis.facts import digits, duration, fact_words
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.kinds import CONSEQUENCES, EventKind, FindingKind, Trust
from parchd.diagnosis.words import EVENT_WORDS, WORDS, confidence_words, consequence_words, spoken, trust_words

COMMAND = re.compile(r"parchd [a-z]+(?: -[a-z] NAME| NAME| --[a-z-]+(?: (?:TIME|[a-z]+(?:-[a-z]+)*))?)*")
KINDS = pytest.mark.parametrize("kind", FindingKind)


def texts(kind: FindingKind) -> tuple[str, ...]:
    words = WORDS[kind]
    return tuple(spoken(said) for said in (words.title, words.meaning, *words.doing, words.trust_again))


def test_every_finding_and_every_event_has_words() -> None:
    assert list(WORDS) == list(FindingKind)
    assert list(EVENT_WORDS) == list(EventKind)
    assert len({words.title for words in WORDS.values()}) == len(FindingKind)


@KINDS
def test_words_are_whole_sentences(kind: FindingKind) -> None:
    title, *sentences = texts(kind)
    assert title[0].islower()
    assert not title.endswith(".")
    for sentence in sentences:
        assert sentence[0].isupper() or sentence.startswith("parchd")
        assert sentence.endswith(".")
        assert "  " not in sentence


@KINDS
def test_the_need_is_short_and_names_who_has_it(kind: FindingKind) -> None:
    need = WORDS[kind].need
    assert "{name}" in need
    assert len(spoken(need, "north-1-30")) <= 40
    assert need[0].islower()
    assert not need.endswith(".")


@KINDS
def test_there_is_something_to_do_in_order_look_first(kind: FindingKind) -> None:
    doing = WORDS[kind].doing
    assert 3 <= len(doing) <= 5


@KINDS
def test_commands_that_are_named_are_commands_that_work(kind: FindingKind) -> None:
    commands = [found for text in texts(kind) for found in COMMAND.findall(text)]
    for command in commands:
        words = shlex.split(command.replace("NAME", "north-1-30").replace("TIME", "2026-05-01"))
        parsed = build_parser().parse_args(words[1:])
        assert isinstance(parsed, argparse.Namespace)


def test_many_commands_are_named() -> None:
    assert sum(len(COMMAND.findall(text)) for kind in FindingKind for text in texts(kind)) > 40


@KINDS
def test_a_finding_that_only_a_service_ends_says_so_and_names_the_command(kind: FindingKind) -> None:
    trust = spoken(WORDS[kind].trust_again)
    latched = CONSEQUENCES[kind].trust is Trust.SERVICE
    assert trust.startswith("Only after") is latched
    assert ("nothing else" in trust_words(kind)) is latched
    if latched:
        assert "parchd service -t NAME --work" in trust
    if latched or CONSEQUENCES[kind].flag is not Flag.PASS:
        assert "parchd service -t NAME" in trust


@KINDS
@pytest.mark.parametrize(
    ("danger", "caution"),
    [
        (r"cement|epoxy", "gloves, eye protection, ventilation or a respirator"),
        (r"[Aa]cids", "gloves"),
        (r"pump the air out", "Eye protection"),
        (r"\bgrinding\b", "dust that must not be breathed"),
        (r"electrician", "local codes"),
        (r"\bvalves?\b.*shut|shut.*supply", "local codes"),
    ],
)
def test_where_hands_are_at_risk_there_is_a_caution(kind: FindingKind, danger: str, caution: str) -> None:
    for step in map(spoken, WORDS[kind].doing):
        assert caution in step or not re.search(danger, step)


def test_work_on_wires_defers_to_electricians_and_codes() -> None:
    for kind in (
        FindingKind.NOISY_SUPPLY,
        FindingKind.DROP_OUTS,
        FindingKind.OPEN_CIRCUIT,
        FindingKind.SHORT_CIRCUIT,
        FindingKind.SILENT_SOURCE,
    ):
        assert any("licensed electrician; local codes" in spoken(step) for step in WORDS[kind].doing)


@KINDS
def test_what_it_does_to_readings_follows_from_its_flag(kind: FindingKind) -> None:
    says = consequence_words(kind)
    flag = CONSEQUENCES[kind].flag
    assert ("neither raise nor clear" in says) is (not flag.decides)
    assert (flag.word in says) is (flag is not Flag.PASS)


@pytest.mark.parametrize(
    ("fact", "said"),
    [
        (Fact("fell from", 41.25, "kPa"), ("Fell from", "41.2 kPa")),
        (Fact("reads", -3.96, "kPa"), ("Reads", "-4.0 kPa")),
        (Fact("reads", -0.01, "kPa"), ("Reads", "0.0 kPa")),
        (Fact("rises by", 0.125, "kPa/day"), ("Rises by", "0.12 kPa/day")),
        (Fact("within", 0.5, "h"), ("Within", "30 min")),
        (Fact("within", 6.0, "h"), ("Within", "6 h")),
        (Fact("held for", 120.0, "h"), ("Held for", "5 days")),
        (Fact("for", 1.5, "days"), ("For", "36 h")),
        (Fact("vacuum lost", 42.4, "%"), ("Vacuum lost", "42 %")),
        (Fact("coldest", -1.25, "degC"), ("Coldest", "-1.2 °C")),
        (Fact("since", 5, "time"), ("Since", "local 5")),
        (Fact("channels", 6), ("Channels", "6")),
        (Fact("reached", 30.0, "cm"), ("Reached", "30 cm")),
        (Fact("lowest number", 3e-41), ("Lowest number", "3e-41")),
        (Fact("told by", "a leap of tension"), ("Told by", "a leap of tension")),
        (Fact("lag", float("nan"), "h"), ("Lag", "unknown")),
    ],
)
def test_a_fact_is_a_label_and_a_value_with_its_unit(fact: Fact, said: tuple[str, str]) -> None:
    assert fact_words(fact, lambda us: f"local {us}") == said


@given(
    st.one_of(st.floats(), st.integers(-(2**62), 2**62)),
    st.sampled_from(("kPa", "kPa/h", "kPa/day", "h", "days", "degC", "%", "")),
)
def test_any_number_can_be_written_shortly(value: float, unit: str) -> None:
    _, said = fact_words(Fact("x", value, unit), str)
    assert "nan" not in said
    assert "inf" not in said
    assert unit == "" or len(said) < 325


def test_few_digits_are_enough() -> None:
    assert [digits(x, 1) for x in (9.94, 9.96, 99.94, 99.96)] == ["9.9", "10.0", "99.9", "100"]
    assert [duration(h) for h in (0.99, 71.9, 72.0, 9.96)] == ["59 min", "72 h", "3 days", "10 h"]


def test_confidence_has_three_words() -> None:
    said = [confidence_words(x / 100) for x in range(101)]
    assert list(dict.fromkeys(said)) == ["possible", "likely", "nearly certain"]
