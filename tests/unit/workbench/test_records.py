"""What is left behind: files that never take another's place, and TOML that reads back."""

import tomllib
from datetime import UTC, date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.workbench.chart import Chart, Span
from parchd.workbench.records import RecordError, RecordValue, keep, record_folder, toml_text, write_new

names = st.from_regex(r"[a-z_]{1,12}", fullmatch=True)
numbers = st.floats(allow_nan=False) | st.integers(-(2**62), 2**62)
scalars: st.SearchStrategy[RecordValue] = (
    st.text() | numbers | st.booleans() | st.dates(date(1990, 1, 1)) | st.datetimes(timezones=st.just(UTC))
)
values = scalars | st.lists(st.tuples(numbers, numbers)).map(tuple) | st.lists(st.text()).map(tuple)
CHART = Chart("t", "s", "kPa", Span(0.0, 1.0), Span(0.0, 1.0))


@given(st.dictionaries(names, values, max_size=6))
def test_what_is_written_reads_back(content: dict[str, RecordValue]) -> None:
    read = tomllib.loads(toml_text(content, "a comment\nof two lines"))
    assert set(read) == set(content)
    for key, value in content.items():
        assert as_tuples(read[key]) == value


def as_tuples(value: object) -> object:
    return tuple(as_tuples(one) for one in value) if isinstance(value, list) else value


def test_long_lists_stand_on_several_lines() -> None:
    text = toml_text({"curve": tuple((float(n), 1.0) for n in range(100))})
    assert max(map(len, text.splitlines())) <= 120
    assert len(text.splitlines()) > 10


def test_a_record_and_its_picture_share_a_name_that_nobody_has(tmp_path: Path) -> None:
    first = keep(tmp_path, "2026-05-14_1502_n1_towel", {"a": 1}, "", CHART)
    second = keep(tmp_path, "2026-05-14_1502_n1_towel", {"a": 2}, "", CHART)
    assert [path.name for path in (*first, *second)] == [
        "2026-05-14_1502_n1_towel.toml", "2026-05-14_1502_n1_towel.svg",
        "2026-05-14_1502_n1_towel-2.toml", "2026-05-14_1502_n1_towel-2.svg",
    ]  # fmt: skip
    assert tomllib.loads(first[0].read_text()) == {"a": 1}


def test_records_go_beside_the_journal_or_where_one_says(tmp_path: Path) -> None:
    assert record_folder(None, tmp_path / "parchd.db") == tmp_path / "records"
    assert record_folder(tmp_path / "x" / "y", tmp_path / "parchd.db") == tmp_path / "x" / "y"
    assert (tmp_path / "x" / "y").is_dir()
    assert not list((tmp_path / "x" / "y").iterdir())


def test_a_folder_that_cannot_be_is_told_before_anything_begins(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError, match="name another folder with --records"):
        record_folder(tmp_path / "file" / "records", tmp_path / "parchd.db")
    with pytest.raises(RecordError, match="cannot be written"):
        write_new(tmp_path / "none", "a", ".toml", "")
