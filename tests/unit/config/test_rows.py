"""Tensiometers from a CSV table."""

import pytest

from parchd.testing.config_folder import BASE, ConfigFolder, changed

TABLE = 'tensiometers_table = "t.csv"\n'
HEADER = "name,zone,depth_cm,height_cm,channel,transducer\n"
OWN = BASE[BASE.index("[tensiometers.n1]") : BASE.index("[notifiers.hook]")]
FARM = TABLE + changed(OWN, "")


def test_each_row_is_a_tensiometer(config: ConfigFolder) -> None:
    config.write("t.csv", HEADER + "n1,north,30,45,bus1/a0,vac\nn2,north,60,75.5,bus1/a1,vac\n")
    n1, n2 = config.load(FARM).pipeline.tensiometers
    assert (n1.place.tensiometer, n1.place.depth_m, n1.height_m, n1.channel) == ("n1", 0.3, 0.45, "bus1/a0")
    assert (n2.place.tensiometer, n2.place.depth_m, n2.height_m) == ("n2", 0.6, 0.755)


def test_its_own_table_wins_over_its_row_key_by_key(config: ConfigFolder) -> None:
    config.write("t.csv", HEADER + "n1,north,30,45,bus1/a0,vac\n")
    (n1,) = config.load(FARM + "[tensiometers.n1]\nheight_cm = 50\n").pipeline.tensiometers
    assert (n1.place.depth_m, n1.height_m) == (0.3, 0.5)


def test_empty_cells_empty_lines_and_comments_say_nothing(config: ConfigFolder) -> None:
    config.write("t.csv", f"# all of them\n\n{HEADER}\n# first\nn1,north,,45,bus1/a0,vac\n , ,,,,\n")
    assert config.load(FARM + "[defaults]\ndepth_cm = 20\n").pipeline.tensiometers[0].place.depth_m == 0.2


@pytest.mark.parametrize("separator", [";", "\t"])
def test_spreadsheets_may_part_with_semicolons_and_write_decimal_commas(config: ConfigFolder, separator: str) -> None:
    text = HEADER + "n1,north,30,45.5,bus1/a0,vac\n"
    config.write("t.csv", "\ufeff" + text.replace(",", separator).replace("45.5", "45,5").replace("\n", "\r\n"))
    assert config.load(FARM).pipeline.tensiometers[0].height_m == pytest.approx(0.455)


def test_words_for_yes_and_no_are_understood(config: ConfigFolder) -> None:
    config.write("t.csv", "name,zone,depth_cm,zeroed_in_water,channel,transducer\nn1,north,30,yes,bus1/a0,vac\n")
    assert config.load(FARM).zeroed == {"n1"}


def test_a_wrong_cell_is_named_by_file_row_and_column(config: ConfigFolder) -> None:
    config.write("t.csv", HEADER + "n1,north,30,45,bus1/a0,vac\nn2,north,thirty,45,bus1/a1,vac\n")
    problem = config.problem(FARM)
    assert (problem.file, problem.line, problem.key) == ("t.csv", 3, "tensiometers.n2.depth_cm (column C)")
    assert (problem.found, problem.expected) == ('"thirty"', "a number")


def test_a_decimal_comma_in_a_table_parted_by_commas_gets_a_hint(config: ConfigFolder) -> None:
    config.write("t.csv", HEADER + 'n1,north,30,"45,5",bus1/a0,vac\n')
    assert "with a point" in config.problem(FARM).hint


def test_a_row_counts_from_its_first_line(config: ConfigFolder) -> None:
    header = HEADER.replace("transducer", "transducer,station")
    config.write("t.csv", header + 'n1,north,30,45,bus1/a0,vac,"a\nb"\nn2,west,30,45,bus1/a1,vac,\n')
    assert [(p.line, p.key) for p in config.problems(FARM)] == [
        (2, "tensiometers.n1.station (column G)"),
        (4, "tensiometers.n2.zone (column B)"),
    ]


def test_what_is_missing_in_a_row_names_the_row(config: ConfigFolder) -> None:
    config.write("t.csv", HEADER + "n1,north,30,45,,vac\n")
    problem = config.problem(FARM)
    assert (problem.file, problem.line, problem.key) == ("t.csv", 2, "tensiometers.n1")
    assert problem.expected.startswith("channel: ")


def test_an_unknown_column_is_named_once_with_a_guess(config: ConfigFolder) -> None:
    config.write("t.csv", "name,zone,depth,height_cm,channel,transducer\nn1,north,30,45,bus1/a0,vac\n")
    first, *rest = config.problems(FARM)
    assert (first.line, first.key, first.hint) == (1, "depth (column C)", "did you mean depth_cm?")
    assert [problem.expected.split(":")[0] for problem in rest] == ["depth_cm"]


@pytest.mark.parametrize(
    ("table", "line", "key", "found"),
    [
        ("zone,depth_cm\nnorth,30\n", 1, "name", "zone, depth_cm"),
        ("", 1, "name", "nothing"),
        ("name,zone,zone\n", 1, "zone (column C)", "a second column of that name"),
        ("name\nNorth 1\n", 2, "name (column A)", '"North 1"'),
        (f"{HEADER},north,30,45,bus1/a0,vac\n", 2, "name (column A)", "nothing"),
        (f"{HEADER}n1,north,30,45,bus1/a0,vac,7\n", 2, "row (column G)", "7 cells"),
        (
            f"{HEADER}n1,north,30,45,bus1/a0,vac\nn1,north,30,45,bus1/a1,vac\n",
            3,
            "tensiometers.n1 (column A)",
            "a second row",
        ),
    ],
)
def test_a_table_that_is_no_table_of_tensiometers_says_why(
    config: ConfigFolder, table: str, line: int, key: str, found: str
) -> None:
    config.write("t.csv", table)
    problem = config.problem(FARM)
    assert (problem.file, problem.line, problem.key) == ("t.csv", line, key)
    assert problem.found.startswith(found)


def test_a_missing_table_names_the_key_that_names_it(config: ConfigFolder) -> None:
    problem = config.problem(FARM)
    assert (problem.file, problem.line, problem.key) == ("farm.toml", 1, "tensiometers_table")
    assert "t.csv" in problem.found


def test_a_table_in_another_encoding_says_where(config: ConfigFolder) -> None:
    (config.folder / "t.csv").write_bytes(HEADER.encode() + "n1,größer\n".encode("latin-1"))
    assert "line 2" in config.problem(FARM).expected


def test_an_included_file_may_name_the_table_beside_it(config: ConfigFolder) -> None:
    config.write("farm.d/t.toml", TABLE)
    config.write("farm.d/t.csv", HEADER + "n1,north,30,45,bus1/a0,vac\n")
    assert len(config.load('include = "farm.d"\n' + FARM.removeprefix(TABLE)).pipeline.tensiometers) == 1
