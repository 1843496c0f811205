"""The numbers that stand for units and time sources."""

from parchd.contract import TimeSource, Unit
from parchd.store.codes import TIME_SOURCE_CODE, TIME_SOURCE_OF_CODE, UNIT_CODE, UNIT_OF_CODE


def test_the_numbers_never_change() -> None:
    assert {unit.value: code for unit, code in UNIT_CODE.items()} == {
        "counts": 1, "V": 2, "mV": 3, "mA": 4, "kPa": 5, "degC": 6, "hPa": 7,
    }  # fmt: skip
    assert {source.value: code for source, code in TIME_SOURCE_CODE.items()} == {
        "device": 1, "arrival": 2, "unknown": 3,
    }  # fmt: skip


def test_everything_has_a_number_and_comes_back_from_it() -> None:
    assert [UNIT_OF_CODE[UNIT_CODE[unit]] for unit in Unit] == list(Unit)
    assert [TIME_SOURCE_OF_CODE[TIME_SOURCE_CODE[source]] for source in TimeSource] == list(TimeSource)
