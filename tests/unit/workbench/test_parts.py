"""Which parts, and how many."""

import pytest

from parchd.workbench.errors import SheetError
from parchd.workbench.parts import PARTS, Closure, Measure, Need, Readout, needs_of


def needs(count: int = 6, readout: Readout = Readout.TRANSDUCER, spares: float = 10.0) -> dict[str, Need]:
    found = needs_of(count, 2, readout=readout, closure=Closure.CAP, spares_percent=spares)
    return {need.part.key: need for need in found}


def test_a_tenth_of_six_is_one_spare_of_each_piece_but_not_of_pipes_inputs_and_cans() -> None:
    for need in needs().values():
        assert need.spare == (1 if need.part.measure is Measure.PIECE else 0), need
    assert (needs()["cup"].total, needs()["input"].total, needs()["pipe"].total, needs()["epoxy"].total) == (7, 6, 2, 1)


@pytest.mark.parametrize(("count", "spares", "spare"), [(10, 10, 1), (11, 10, 2), (6, 0, 0), (3, 100, 3), (30, 10, 3)])
def test_spares_are_rounded_up_to_whole_pieces(count: int, spares: float, spare: int) -> None:
    assert needs(count, spares=spares)["tee"].spare == spare


def test_a_gauge_needs_neither_cable_nor_input() -> None:
    with_gauge, with_transducer = needs(readout=Readout.GAUGE), needs()
    assert with_transducer.keys() - with_gauge.keys() == {"transducer", "cable", "input"}
    assert with_gauge.keys() - with_transducer.keys() == {"gauge"}


def test_a_cap_or_a_stopper_closes_the_top_but_not_both() -> None:
    keys = [
        {n.part.key for n in needs_of(1, 1, readout=Readout.GAUGE, closure=closure, spares_percent=0)}
        for closure in (Closure.CAP, Closure.STOPPER)
    ]
    assert keys[0] ^ keys[1] == {"cap", "stopper"}


@pytest.mark.parametrize("spares", [-1.0, 101.0, float("nan")])
def test_spares_are_a_percentage(spares: float) -> None:
    with pytest.raises(SheetError, match="0 to 100 %"):
        needs(spares=spares)


def test_keys_of_parts_are_words_that_toml_takes_without_quotes() -> None:
    assert all(part.key.isalpha() and part.key.islower() for part in PARTS)
    assert len({part.key for part in PARTS}) == len(PARTS)
