"""Problems of single keys: what was found, what was expected, where."""

import pytest

from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of


@pytest.mark.parametrize(
    ("old", "new", "key", "expected"),
    [
        ("altitude_m = 100", 'altitude_m = "high"', "site.altitude_m", "a number"),
        ("altitude_m = 100", "altitude_m = true", "site.altitude_m", "a number"),
        ("altitude_m = 100", "altitude_m = nan", "site.altitude_m", "a number that is finite"),
        ("altitude_m = 100", "altitude_m = 99999", "site.altitude_m", "9000 or less"),
        ("altitude_m = 100", "altitude_m = [100]", "site.altitude_m", "a number"),
        ('name = "Quillmere Orchard"', "name = 3", "site.name", "text in double quotes"),
        ('name = "Quillmere Orchard"', 'name = " "', "site.name", "one line of text"),
        ('name = "Quillmere Orchard"', 'name = "a\\nb"', "site.name", "one line of text"),
        ('"Europe/Lisbon"', '"Lisbon"', "site.time_zone", "IANA"),
        ('"Europe/Lisbon"', '"../etc"', "site.time_zone", "IANA"),
        ("low_kpa = 0", "low_kpa = -5000", "transducers.vac.low_kpa", "-1000 or more"),
        ('kind = "ratiometric"', 'kind = "ratio"', "transducers.vac.kind", "one of bridge, current-loop, digital"),
        ("plan_kpa = 30", "plan_kpa = -30", "zones.north.plan_kpa", "more than 0"),
        ("now_kpa = 40", 'now_kpa = 40\ndecide = "noon"', "zones.north.decide", "one of any, morning"),
        ("now_kpa = 40", "now_kpa = 40\nmin_trusted = 1.5", "zones.north.min_trusted", "a whole number"),
        ("now_kpa = 40", 'now_kpa = 40\nwindow = ["5 am", "08:00"]', "zones.north.window[1]", "a time of day"),
        ("now_kpa = 40", 'now_kpa = 40\nwindow = "05:00"', "zones.north.window", "a list in brackets"),
        ("depth_cm = 30", "depth_cm = 0", "tensiometers.n1.depth_cm", "1 or more"),
        ('"bus1/a0"', '"a0"', "tensiometers.n1.channel", "a source and its channel"),
        ("height_cm = 45", "height_cm = 45\ninterval_s = -1", "tensiometers.n1.interval_s", "more than 0"),
        ("height_cm = 45", 'height_cm = 45\ndecides = "perhaps"', "tensiometers.n1.decides", "true or false"),
        ("[zones.north]", "[store]\nkeep_days = -1\n[zones.north]", "store.keep_days", "0 or more"),
        ("[zones.north]", "[store]\ncommit_ms = 5000\n[zones.north]", "store.commit_ms", "1000 or less"),
    ],
)
def test_a_wrong_value_is_named_with_its_line_and_what_was_expected(
    config: ConfigFolder, old: str, new: str, key: str, expected: str
) -> None:
    text = changed(old, new)
    problem = config.problem(text)
    assert problem.key == key
    word = key.rpartition(".")[2].partition("[")[0]
    assert problem.line == line_of(next((line for line in new.splitlines() if line.startswith(word)), new), text)
    assert expected in problem.expected
    assert problem.found


def test_an_unknown_key_has_its_own_line_and_a_guess(config: ConfigFolder) -> None:
    problem = config.problem(changed("now_kpa = 40", "now_kpa = 40\non_delay_minutes = 5"))
    assert problem.line == line_of("now_kpa", BASE) + 1
    assert problem.key == "zones.north.on_delay_minutes"
    assert problem.found == "an unknown key"
    assert problem.hint == "did you mean on_delay_min?"


def test_an_unknown_table_is_an_unknown_key(config: ConfigFolder) -> None:
    problem = config.problem(changed("[zones.north]", "[zone.south]\nplan_kpa = 3\n[zones.north]"))
    assert (problem.key, problem.hint) == ("zone", "did you mean zones?")


def test_a_missing_key_has_the_line_of_its_table(config: ConfigFolder) -> None:
    problem = config.problem(changed('name = "Quillmere Orchard"\n', ""))
    assert (problem.line, problem.key, problem.found) == (1, "site.name", "nothing")
    assert problem.expected == "name: name of the farm or bench, as mails show it"


def test_a_key_that_is_written_wrong_is_not_missing_too(config: ConfigFolder) -> None:
    problem = config.problem(changed("altitude_m = 100", "altitude = 100"))
    assert (problem.key, problem.hint) == ("site.altitude", "did you mean altitude_m?")


def test_a_tensiometers_key_that_is_written_wrong_is_not_missing_too(config: ConfigFolder) -> None:
    problem = config.problem(changed("depth_cm = 30", "depht_cm = 30"))
    assert (problem.key, problem.hint) == ("tensiometers.n1.depht_cm", "did you mean depth_cm?")


def test_a_missing_site_is_one_problem(config: ConfigFolder) -> None:
    problem = config.problem(BASE.split("\n\n", 1)[1])
    assert (problem.file, problem.line, problem.key) == ("farm.toml", None, "site")
    assert problem.expected == "site: table [site] with name, time_zone and altitude_m"


def test_an_empty_file_is_one_problem(config: ConfigFolder) -> None:
    assert config.problem("").key == "site"


def test_decimals_with_a_comma_in_quotes_get_a_hint(config: ConfigFolder) -> None:
    assert "with a point" in config.problem(changed("altitude_m = 100", 'altitude_m = "100,5"')).hint


@pytest.mark.parametrize("name", ["North", "north block", "nörth", "a__b", "x" * 49, "-north", ""])
def test_names_are_small_letters_digits_and_dashes(config: ConfigFolder, name: str) -> None:
    text = changed("[zones.north]", f'[zones."{name}"]\n[zones.north]')
    problem = config.problem(text)
    assert problem.found == f'"{name}"'[:45] + "..." * (len(name) > 46) + '"' * (len(name) > 46)
    assert problem.expected.startswith("a name of small letters")
    assert problem.line == line_of("[zones.north]", BASE)


def test_a_kind_of_transducer_is_needed(config: ConfigFolder) -> None:
    problem = config.problem(changed('kind = "ratiometric"\n', ""))
    assert (problem.key, problem.line) == ("transducers.vac", line_of("[transducers.vac]", BASE))
    assert "kind" in problem.expected


def test_unknown_keys_of_a_transducer_are_compared_with_its_kind(config: ConfigFolder) -> None:
    problem = config.problem(changed("high_kpa = -100", "high_kpa = -100\nshunt_ohm = 150"))
    assert problem.key == "transducers.vac.shunt_ohm"
    assert "supply_v" in problem.expected
    assert "shunt_ohm" not in problem.expected


def test_values_of_any_length_are_shown_shortened_and_on_one_line(config: ConfigFolder) -> None:
    problem = config.problem(changed("altitude_m = 100", 'altitude_m = "' + "a\\u001b\\n" * 100 + '"'))
    assert len(problem.found) <= 49
    assert problem.found.isprintable()


def test_a_tables_place_holds_a_value(config: ConfigFolder) -> None:
    text = "zones = 3\n" + changed("[zones.north]\nplan_kpa = 30\nnow_kpa = 40\n", "")
    problem = config.problem(text)
    assert (problem.line, problem.key, problem.found, problem.expected) == (1, "zones", "3", "a table")


def test_what_cannot_be_read_is_missed_by_nobody(config: ConfigFolder) -> None:
    """The zone, the transducer and the source are there, only wrong: their names are no further problems."""
    text = changed("plan_kpa = 30", "plan_kpa = 30\nno_such = 1")
    text = changed("high_kpa = -100", 'high_kpa = "low"', text)
    text = changed("[sources.bus1]", "[sources]\nbus1 = 3\n[sources.bus2]", text)
    assert [p.key for p in config.problems(text)] == ["transducers.vac.high_kpa", "zones.north.no_such", "sources.bus1"]
