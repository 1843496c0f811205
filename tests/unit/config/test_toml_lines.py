import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from parchd.config.toml_lines import Loc, key_lines


def test_headers_and_keys_have_their_lines() -> None:
    lines = key_lines('# a comment\n[site]\nname = "A" # [not.a.table]\n\n[zones.north]\nplan_kpa = 30\n')
    assert lines[("site",)] == 2
    assert lines[("site", "name")] == 3
    assert lines[("zones", "north")] == 5
    assert lines[("zones", "north", "plan_kpa")] == 6


def test_a_table_that_is_only_implied_has_the_line_of_what_implies_it() -> None:
    assert key_lines("[zones.north.defaults]\ndepth_cm = 30\n")[("zones", "north")] == 1


def test_its_own_header_wins_over_an_implied_table() -> None:
    assert key_lines("[a.b]\nx = 1\n[a]\ny = 2\n")[("a",)] == 3


def test_a_value_over_several_lines_counts_from_its_key() -> None:
    lines = key_lines('points = [\n  [0.5, 0], # "first\n  [3.7, 80],\n]\nafter = 1\n')
    assert lines == {("points",): 1, ("after",): 5}


def test_text_over_several_lines_hides_what_looks_like_keys() -> None:
    text = 'note = """\nx = 1\n[a]\n\\"""\n""""\nafter = \'\'\'\n[b]\n\'\'\'\nlast = 1\n'
    assert list(tomllib.loads(text)) == ["note", "after", "last"]
    assert key_lines(text) == {("note",): 1, ("after",): 6, ("last",): 9}


def test_elements_of_arrays_of_tables_are_counted() -> None:
    lines = key_lines("[[t.a.calibration]]\nx = 1\n[t.a.calibration.more]\nz = 1\n[[t.a.calibration]]\nx = 2\n")
    assert lines[("t", "a", "calibration", 0, "x")] == 2
    assert lines[("t", "a", "calibration", 0, "more", "z")] == 4
    assert lines[("t", "a", "calibration", 1)] == 5
    assert lines[("t", "a", "calibration", 1, "x")] == 6


def test_dotted_and_quoted_keys_are_paths() -> None:
    lines = key_lines("[subscribe.\"a.b\"]\n'c = d'.e = 1\n f . g = '#'\n")
    assert lines[("subscribe", "a.b", "c = d", "e")] == 2
    assert lines[("subscribe", "a.b", "f", "g")] == 3


def test_line_ends_of_other_systems_count_once() -> None:
    assert key_lines("[a]\r\nx = 1\r\n\r\ny = 2\r\n") == {("a",): 1, ("a", "x"): 2, ("a", "y"): 4}


names = st.text("abz09_-", min_size=1, max_size=3)
values = st.sampled_from(["1", '"x = 1"', "[1,\n 2]", '"""\n[a]\n"""', "{ q = 1 }", "'#'", "2026-03-01", "[\n# ]\n]"])
tables = st.dictionaries(names, values, max_size=4)


@given(st.dictionaries(st.lists(names, min_size=1, max_size=3).map(tuple), tables, max_size=5), st.booleans())
def test_every_key_that_the_parser_finds_is_found_on_its_line(found: dict[Loc, dict[str, str]], blank: bool) -> None:
    text, wanted = "", {}
    for path, keys in found.items():
        text += f"[{'.'.join(map(str, path))}]\n" + "\n" * blank
        for key, value in keys.items():
            wanted[(*path, key)] = text.count("\n") + 1
            text += f"{key} = {value}\n"
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = key_lines(text)
    assert {loc: line for loc, line in lines.items() if loc in wanted} == wanted
    assert all(_reaches(parsed, loc) for loc in lines)


def _reaches(data: Any, loc: Loc) -> bool:
    for key in loc:
        if key not in data:
            return False
        data = data[key]
    return True
