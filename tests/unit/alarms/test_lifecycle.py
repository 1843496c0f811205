"""Every state with everything that can happen, against a table written down from the standards' diagram.

Capital letters are the states of IEC 62682 and ISA-18.2: N normal, U unacknowledged, A acknowledged, R returned
unacknowledged, L latched, S shelved, D suppressed by design, O out of service. A dot: it cannot happen. Small letters
are cells that depend on more; each has its cases below.
"""

from itertools import product
from pathlib import Path

import pytest

from parchd.alarms.lifecycle import TABLE, Circumstances, Happening, State, follow

HAPPENINGS = "raised cleared acknowledged reset shelved unshelved suppressed released removed restored repeated"
EXPECTED = """
    normal                   U  .  .  .  S  .  D  .  O  .  .
    unacknowledged           U  g  A  .  S  .  D  .  O  .  U
    acknowledged             U  h  .  .  S  .  D  .  O  .  U
    returned-unacknowledged  U  .  N  .  S  .  D  .  O  .  .
    latched                  U  .  l  N  S  .  D  .  O  .  .
    shelved                  S  S  .  s  S  i  S  S  O  .  .
    suppressed               D  D  d  e  S  .  D  i  O  .  .
    out-of-service           O  O  .  o  .  .  O  O  O  i  .
"""
LETTERS = {
    "N": State.NORMAL, "U": State.UNACKNOWLEDGED, "A": State.ACKNOWLEDGED, "R": State.RETURNED, "L": State.LATCHED,
    "S": State.SHELVED, "D": State.SUPPRESSED, "O": State.OUT_OF_SERVICE, ".": None,
}  # fmt: skip
# is on, latches, waits after its end, latched and not reset, acknowledged, a reason to suppress
CASES = {
    # gone before anybody acknowledged it
    "g": {(0, 0, 0, 0, 0, 0): "N", (0, 0, 1, 0, 0, 0): "R", (0, 1, 0, 1, 0, 0): "L", (0, 1, 1, 1, 0, 0): "L"},
    # gone after it was acknowledged
    "h": {(0, 0, 0, 0, 1, 0): "N", (0, 0, 1, 0, 1, 0): "N", (0, 1, 0, 1, 1, 0): "L", (0, 1, 1, 1, 1, 0): "L"},
    # latched: seen once
    "l": {(0, 1, 1, 1, 0, 0): "L", (0, 1, 1, 1, 1, 0): "."},
    # reset behind a shelf, behind a suppression, out of service: where something is latched
    "s": {(0, 1, 1, 1, 0, 0): "S", (0, 1, 1, 0, 0, 0): ".", (1, 1, 1, 0, 0, 0): ".", (0, 0, 1, 0, 0, 0): "."},
    "e": {(0, 1, 1, 1, 0, 1): "D", (0, 1, 1, 0, 0, 1): ".", (1, 1, 1, 0, 0, 1): "."},
    "o": {(0, 1, 1, 1, 0, 0): "O", (0, 1, 1, 0, 0, 0): ".", (1, 1, 1, 0, 0, 0): "."},
    # acknowledged while the program hides it: where it is on and was not
    "d": {(1, 0, 1, 0, 0, 1): "D", (1, 0, 1, 0, 1, 1): ".", (0, 0, 1, 0, 0, 1): "."},
    # home, to where the condition is
    "i": {
        (0, 0, 1, 0, 0, 0): "N", (1, 0, 1, 0, 0, 0): "U", (1, 0, 1, 0, 1, 0): "A", (0, 1, 1, 1, 0, 0): "L",
        (0, 1, 1, 0, 0, 0): "N", (1, 1, 1, 0, 0, 0): "U", (0, 0, 1, 0, 0, 1): "D", (1, 0, 1, 0, 0, 1): "D",
        (1, 0, 1, 0, 1, 1): "D", (0, 1, 1, 1, 0, 1): "D",
    },
}  # fmt: skip
ANY = [Circumstances(*map(bool, bits)) for bits in product((0, 1), repeat=6)]


def cells() -> dict[tuple[str, str], str]:
    rows = [line.split() for line in EXPECTED.strip().splitlines()]
    return {
        (row[0], happening): cell for row in rows for happening, cell in zip(HAPPENINGS.split(), row[1:], strict=True)
    }


def test_the_expected_table_has_every_pair_once() -> None:
    assert set(cells()) == {(state.value, happening.value) for state in State for happening in Happening}
    assert set(TABLE) == {(state, happening) for state in State for happening in Happening}


@pytest.mark.parametrize(("state", "happening"), cells())
def test_every_state_follows_the_table_whatever_happens(state: str, happening: str) -> None:
    cell = cells()[state, happening]
    if cell in LETTERS:
        found = {follow(State(state), Happening(happening), now) for now in ANY}
        assert found == {LETTERS[cell]}, "the same whatever the circumstances"
        return
    for bits, letter in CASES[cell].items():
        now = Circumstances(*map(bool, bits))
        assert follow(State(state), Happening(happening), now) is LETTERS[letter], f"{cell} {bits}"


def test_an_alarm_whose_condition_holds_is_never_normal() -> None:
    held = [state for state in State if state not in (State.NORMAL, State.RETURNED, State.LATCHED)]
    for state, happening, now in product(held, Happening, ANY):
        if now.is_on and not now.is_over and happening is not Happening.CLEARED:
            assert follow(state, happening, now) is not State.NORMAL, (state, happening, now)


def test_nothing_but_the_three_ways_out_leaves_a_hidden_state_for_one_that_is_heard() -> None:
    out = {
        State.SHELVED: Happening.UNSHELVED,
        State.SUPPRESSED: Happening.RELEASED,
        State.OUT_OF_SERVICE: Happening.RESTORED,
    }
    for state, happening, now in product(out, Happening, ANY):
        after = follow(state, happening, now)
        if after is not None and not after.is_hidden:
            assert happening is out[state]


def test_the_page_of_alarms_shows_the_same_table() -> None:
    page = (Path(__file__).parents[3] / "config" / "alarms.md").read_text("utf-8")
    rows = [[cell.strip(" `") for cell in line.strip("|").split("|")] for line in page.splitlines() if line[:1] == "|"]
    start = next(n for n, row in enumerate(rows) if row[0] == "state" and len(row) == len(Happening) + 1)
    assert rows[start][1:] == HAPPENINGS.split()
    shown = {
        (row[0], h): cell for row in rows[start + 2 :][: len(State)] for h, cell in zip(Happening, row[1:], strict=True)
    }
    words = {letter: "." if state is None else state.value for letter, state in LETTERS.items()} | {"i": "home"}
    assert shown == {(state, happening): words.get(cell, "see below") for (state, happening), cell in cells().items()}
