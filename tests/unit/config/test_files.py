from pathlib import Path

import pytest

from parchd.config import load
from parchd.contract import ConfigError
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of


def test_a_missing_file_says_so_and_names_its_neighbours(config: ConfigFolder) -> None:
    config.write("orchard.toml", "")
    with pytest.raises(ConfigError) as caught:
        load(config.folder / "farm.toml", {}, None)
    (problem,) = caught.value.problems
    assert problem.file.endswith("farm.toml")
    assert "No such file" in problem.expected
    assert "orchard.toml" in problem.hint


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="directory"):
        load(tmp_path, {}, None)


def test_a_file_that_may_not_be_read_says_so(config: ConfigFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied", str(self))

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert "Permission denied" in config.problem().expected


def test_text_in_another_encoding_names_the_line(config: ConfigFolder) -> None:
    path = config.folder / "farm.toml"
    path.write_bytes(BASE.replace("Orchard", "Orchärd").encode("latin-1"))
    with pytest.raises(ConfigError, match="UTF-8; line 2 has another encoding"):
        load(path, {}, None)


def test_a_mark_that_editors_put_in_front_of_utf_8_does_no_harm(config: ConfigFolder) -> None:
    assert config.load("\ufeff" + BASE).settings.site.name == "Quillmere Orchard"


@pytest.mark.parametrize(
    ("wrong", "hint"),
    [
        ("altitude_m = 2,5", "decimals with a point"),
        ("altitude_m = high", "double quotes"),
        ("altitude_m: 100", "joined by ="),
        ("altitude_m = ", "joined by ="),
        ('name2 = "open', "joined by ="),
    ],
)
def test_broken_toml_names_its_line_and_what_is_often_the_reason(config: ConfigFolder, wrong: str, hint: str) -> None:
    problem = config.problem(changed("altitude_m = 100", wrong))
    assert problem.line == 4
    assert hint in problem.hint


def test_toml_that_breaks_off_names_its_last_line(config: ConfigFolder) -> None:
    problem = config.problem(BASE + "points = [1,\n")
    assert (problem.line, problem.key) == (BASE.count("\n") + 1, "syntax")
    assert "end of the file" in problem.found


def test_a_key_twice_in_one_file_is_a_problem_with_its_line(config: ConfigFolder) -> None:
    assert config.problem(changed("altitude_m = 100", 'altitude_m = 100\nname = "B"')).line == 5


def test_brackets_without_end_are_a_problem_too(config: ConfigFolder) -> None:
    assert config.problem("x = " + "[" * 5000).file == "farm.toml"


def test_included_files_are_merged_table_by_table(config: ConfigFolder) -> None:
    config.write("farm.d/20-zone.toml", '[zones.north]\ntitle = "North block"\n[zones.south]\nplan_kpa = 10\n')
    config.write("farm.d/10-first.toml", "[defaults]\ninterval_s = 60\n")
    config.write("farm.d/.hidden.toml", "broken")
    config.write("farm.d/notes.txt", "broken")
    loaded = config.load('include = "farm.d"\n' + BASE)
    assert loaded.settings.zones["north"].title == "North block"
    assert loaded.settings.zones["north"].plan_kpa == 30
    assert loaded.pipeline.tensiometers[0].interval_s == 60


def test_a_problem_in_an_included_file_names_that_file(config: ConfigFolder) -> None:
    config.write("farm.d/zone.toml", '\n[zones.north]\ntitel = "North block"\n')
    problem = config.problem('include = "farm.d"\n' + BASE)
    assert (problem.file, problem.line, problem.key) == ("farm.d/zone.toml", 3, "zones.north.titel")


def test_a_key_set_in_two_files_names_both_places(config: ConfigFolder) -> None:
    config.write("farm.d/zone.toml", "[zones.north]\nnow_kpa = 50\n")
    problem = config.problem('include = "farm.d"\n' + BASE)
    assert (problem.file, problem.line, problem.key) == ("farm.d/zone.toml", 2, "zones.north.now_kpa")
    assert f"farm.toml:{line_of('now_kpa', BASE) + 1}" in problem.expected


def test_a_table_in_one_file_and_a_value_in_another_are_set_twice(config: ConfigFolder) -> None:
    config.write("farm.d/zone.toml", 'site = "Quillmere"\n')
    assert config.problem('include = "farm.d"\n' + BASE).key == "site"


def test_a_missing_folder_to_include_is_a_problem(config: ConfigFolder) -> None:
    problem = config.problem('include = "farm.d"\n' + BASE)
    assert (problem.line, problem.key) == (1, "include")


def test_an_included_file_includes_nothing(config: ConfigFolder) -> None:
    config.write("farm.d/more.toml", 'include = "more.d"\n')
    assert config.problem('include = "farm.d"\n' + BASE).file == "farm.d/more.toml"


def test_broken_toml_in_several_files_is_reported_for_each(config: ConfigFolder) -> None:
    config.write("farm.d/a.toml", "a = \n")
    config.write("farm.d/b.toml", "\n\nb = \n")
    assert [(p.file, p.line) for p in config.problems('include = "farm.d"\n' + BASE)] == [
        ("farm.d/a.toml", 1),
        ("farm.d/b.toml", 3),
    ]


@pytest.mark.parametrize("key", ["include", "tensiometers_table", "calibration_dir"])
def test_a_path_that_no_system_has_is_a_problem(config: ConfigFolder, key: str) -> None:
    problem = config.problem(f'{key} = "a\\u0000b"\n{BASE}')
    assert (problem.key, problem.expected) == (key, "a path without a NUL character")
