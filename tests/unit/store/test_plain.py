"""Plain data as text and back."""

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import JsonValue
from parchd.diagnosis.standing import SourceStanding, Standing
from parchd.store.diagnosis import ELSEWHERE
from parchd.store.plain import from_text, to_text
from parchd.testing.diagnosing import instrument


class Pair(NamedTuple):
    number: int
    kpa: float


@dataclass(slots=True)
class Leaf:
    kpa: float
    word: str = ""
    sure: bool | None = None


@dataclass(slots=True)
class Tree:
    leaf: Leaf
    leaves: list[Leaf] = field(default_factory=list)
    pairs: tuple[Pair, ...] = ()
    two: tuple[int, float] = (0, 0.0)
    by_hour: dict[int, Pair] = field(default_factory=dict)
    words: set[str] = field(default_factory=set)
    notes: dict[str, JsonValue] = field(default_factory=dict)
    maybe: Leaf | None = None
    number: int | None = None


numbers = st.floats(allow_nan=False) | st.just(math.inf)
leaves = st.builds(Leaf, numbers, st.text(max_size=5), st.sampled_from([None, True, False]))
pairs = st.builds(Pair, st.integers(), numbers)
jsons = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)
trees = st.builds(
    Tree, leaves, st.lists(leaves, max_size=3), st.lists(pairs, max_size=3).map(tuple),
    st.tuples(st.integers(), numbers),
    st.dictionaries(st.integers(0, 500_000), pairs, max_size=3), st.sets(st.text(max_size=5), max_size=3),
    st.dictionaries(st.text(max_size=5), jsons, max_size=3), st.none() | leaves, st.none() | st.integers(),
)  # fmt: skip


@given(trees)
def test_what_is_written_is_read_again_bit_for_bit(tree: Tree) -> None:
    assert from_text(Tree, to_text(tree)) == tree


def test_a_number_that_is_none_stays_so() -> None:
    read = from_text(Tree, to_text(Tree(Leaf(math.nan), two=(1, -math.inf))))
    assert math.isnan(read.leaf.kpa)
    assert read.two == (1, -math.inf)


def test_a_field_that_came_later_has_its_default_and_one_that_is_gone_is_passed_over() -> None:
    assert from_text(Leaf, '{"kpa":2.0,"gone":[1,2]}') == Leaf(2.0)


def test_a_field_that_is_kept_elsewhere_is_given_when_it_is_read() -> None:
    text = to_text(Leaf(2.0, "wet"), {"word"})
    assert "wet" not in text
    assert from_text(Leaf, text, word="dry") == Leaf(2.0, "dry")


@pytest.mark.parametrize("text", ["", "[", '{"leaf":5}', "{}"])
def test_what_is_something_else_is_an_error_that_can_be_caught(text: str) -> None:
    with pytest.raises((ValueError, TypeError, KeyError)):
        from_text(Tree, text)


def test_what_the_diagnosis_remembers_is_such_data() -> None:
    standing = Standing(instrument("north-20"))
    read = from_text(Standing, to_text(standing, ELSEWHERE), instrument=standing.instrument)
    assert to_text(read, ELSEWHERE) == to_text(standing, ELSEWHERE)
    source = SourceStanding("bus1")
    assert from_text(SourceStanding, to_text(source)) == source
