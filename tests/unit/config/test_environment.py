"""Variables and credentials that change keys."""

from collections.abc import Mapping
from pathlib import Path

import pytest

from parchd.contract import Problem
from parchd.testing.config_folder import BASE, ConfigFolder, changed


def credential_folder(config: ConfigFolder, files: Mapping[str, str]) -> None:
    for name, text in files.items():
        config.write(f"credentials/{name}", text)
    config.credentials = config.folder / "credentials"


@pytest.mark.parametrize(
    ("variable", "value", "path"),
    [
        ("PARCHD_SITE__NAME", "Nursery", ("site", "name")),
        ("PARCHD_SITE__ALTITUDE_M", "1200", ("site", "altitude_m")),
        ("PARCHD_ZONES__NORTH__PLAN_KPA", "12.5", ("zones", "north", "plan_kpa")),
        ("PARCHD_ZONES__NORTH__DEFAULTS__DEPTH_CM", "12", ("zones", "north", "defaults", "depth_cm")),
        ("PARCHD_TRANSDUCERS__VAC__SUPPLY_V", "3.3", ("transducers", "vac", "supply_v")),
        ("PARCHD_SCHEDULE__DIGEST_AT", "07:15", ("schedule", "digest_at")),
        ("PARCHD_STORE__KEEP_DAYS", "30", ("store", "keep_days")),
        ("PARCHD_TENSIOMETERS__N1__DEPTH_CM", "31", ("tensiometers", "n1", "depth_cm")),
    ],
)
def test_a_variable_changes_any_key(config: ConfigFolder, variable: str, value: str, path: tuple[str, ...]) -> None:
    config.environ[variable] = value
    found = config.load().settings.model_dump(mode="json")
    for key in path:
        found = found[key]
    assert str(found).removesuffix(":00").removesuffix(".0") == value


def test_lists_and_tables_are_written_as_json(config: ConfigFolder) -> None:
    config.environ["PARCHD_ZONES__NORTH__WINDOW"] = '["04:00", "07:30"]'
    config.environ["PARCHD_SOURCES__BUS1__FIELDS"] = '["a0:V", "a7:V"]'
    config.environ["PARCHD_DEFAULTS"] = '{"interval_s": 42}'
    loaded = config.load()
    window = loaded.alarms.irrigation[0].window
    assert window is not None
    assert f"{window.start:%H:%M} {window.end:%H:%M}" == "04:00 07:30"
    assert loaded.pipeline.tensiometers[0].interval_s == 42
    assert "a7" in str(loaded.sources["bus1"].options)


def test_options_of_adapters_are_changed_too(config: ConfigFolder) -> None:
    config.environ["PARCHD_SOURCES__BUS1__BAUD"] = "9600"
    assert config.load().sources["bus1"].options.model_dump()["baud"] == 9600


def test_an_adapter_may_come_from_the_environment_alone(config: ConfigFolder) -> None:
    config.environ |= {"PARCHD_SINKS__COPY__KIND": "influxdb", "PARCHD_SINKS__COPY__URL": "http://localhost:8086"}
    config.environ |= {"PARCHD_SINKS__COPY__ORG": "q", "PARCHD_SINKS__COPY__BUCKET": "1234"}
    assert config.load().sinks["copy"].options.model_dump()["bucket"] == "1234"


def test_an_underscore_may_stand_for_a_dash(config: ConfigFolder) -> None:
    config.environ["PARCHD_ZONES__NORTH_BLOCK__PLAN_KPA"] = "12"
    text = BASE.replace("zones.north", "zones.north-block").replace('"north"', '"north-block"')
    assert config.load(text).settings.zones["north-block"].plan_kpa == 12


def test_tensiometers_of_the_table_can_be_changed(config: ConfigFolder) -> None:
    config.write("t.csv", "name,zone,depth_cm,height_cm,channel,transducer\nn2,north,30,45,bus1/a1,vac\n")
    config.environ["PARCHD_TENSIOMETERS__N2__HEIGHT_CM"] = "50"
    loaded = config.load('tensiometers_table = "t.csv"\n' + BASE)
    assert {t.place.tensiometer: t.height_m for t in loaded.pipeline.tensiometers} == {"n2": 0.5, "n1": 0.45}


def test_names_of_files_can_be_changed(config: ConfigFolder) -> None:
    config.write("other.csv", "name,zone,depth_cm,height_cm,channel,transducer\nn2,north,30,45,bus1/a1,vac\n")
    config.write("other.d/zone.toml", "[zones.north]\ntitle = 'North'\n")
    config.environ |= {"PARCHD_TENSIOMETERS_TABLE": "other.csv", "PARCHD_INCLUDE": "other.d"}
    loaded = config.load('tensiometers_table = "t.csv"\ninclude = "t.d"\n' + BASE)
    assert len(loaded.pipeline.tensiometers) == 2
    assert loaded.settings.zones["north"].title == "North"


def test_a_wrong_value_names_the_variable(config: ConfigFolder) -> None:
    config.environ["PARCHD_SITE__ALTITUDE_M"] = "high"
    assert config.problem() == Problem("", None, "PARCHD_SITE__ALTITUDE_M", '"high"', "a number")


def test_broken_json_is_a_wrong_value(config: ConfigFolder) -> None:
    config.environ["PARCHD_ZONES__NORTH__WINDOW"] = '["04:00"'
    problem = config.problem()
    assert (problem.key, problem.expected) == ("PARCHD_ZONES__NORTH__WINDOW", "a list in brackets")


def test_an_adapters_option_with_a_wrong_value_names_the_variable(config: ConfigFolder) -> None:
    config.environ["PARCHD_SOURCES__BUS1__BAUD"] = "fast"
    assert config.problem().key == "PARCHD_SOURCES__BUS1__BAUD"


@pytest.mark.parametrize(
    ("variable", "hint"),
    [
        ("PARCHD_SIET__NAME", "did you mean site?"),
        ("PARCHD_SITE__NAM", "did you mean name?"),
        ("PARCHD_ZONES__NORHT__PLAN_KPA", "did you mean north?"),
        ("PARCHD_SOURCES__BUS2__PASSWORD", "did you mean bus1?"),
        ("PARCHD_SOURCES__BUS1__BAUDS", "did you mean baud?"),
        ("PARCHD_ZONES__NORTH__PLAN_KPA__X", ""),
        ("PARCHD_QQQ", ""),
    ],
)
def test_a_variable_that_changes_nothing_is_odd_and_gets_a_guess(
    config: ConfigFolder, variable: str, hint: str
) -> None:
    config.environ[variable] = "1"
    warning = config.warning()
    assert (warning.file, warning.key, warning.hint) == ("", variable, hint)
    assert warning.found == "a name that changes nothing"


def test_variables_that_are_empty_or_for_others_say_nothing(config: ConfigFolder) -> None:
    config.environ |= {"PARCHD_SITE__ALTITUDE_M": "", "PARCHD_CONFIG": "x.toml", "HOME": "/root", "SITE__NAME": "no"}
    loaded = config.load()
    assert (loaded.settings.site.altitude_m, loaded.warnings) == (100, ())


def test_credentials_change_keys_below_variables_and_above_the_file(config: ConfigFolder) -> None:
    credential_folder(config, {"site__name": "from a credential\n", "site__altitude_m": "200\n", "plain": "x"})
    config.environ["PARCHD_SITE__ALTITUDE_M"] = "300"
    loaded = config.load()
    assert (loaded.settings.site.name, loaded.settings.site.altitude_m) == ("from a credential", 300)
    assert loaded.warnings == ()


def test_a_wrong_credential_names_its_file(config: ConfigFolder) -> None:
    credential_folder(config, {"site__altitude_m": "high"})
    problem = config.problem()
    assert (problem.file, problem.line, problem.key) == ("credentials/site__altitude_m", None, "site.altitude_m")


def test_a_credential_that_changes_nothing_is_odd(config: ConfigFolder) -> None:
    credential_folder(config, {"sinks__copy__token": "secret"})
    warning = config.warning()
    assert (warning.file, warning.key) == ("credentials/sinks__copy__token", "sinks__copy__token")
    assert "secret" not in str(warning)


def test_credentials_that_are_no_text_are_a_problem(config: ConfigFolder) -> None:
    credential_folder(config, {"site__name": ""})
    (config.folder / "credentials/site__name").write_bytes(b"\xff\xfe\x00")
    assert config.problem().key == "credentials"


def test_a_missing_credential_folder_is_a_problem(config: ConfigFolder) -> None:
    config.credentials = config.folder / "nowhere"
    assert config.problem().key == "credentials"


def test_the_journal_lies_where_the_service_keeps_its_state(config: ConfigFolder) -> None:
    assert config.load().store.path == config.folder / "parchd.db"
    config.environ["STATE_DIRECTORY"] = "/var/lib/parchd:/var/lib/other"
    assert config.load().store.path == Path("/var/lib/parchd/parchd.db")
    text = BASE + "[store]\npath = 'data/j.db'\nkeep_days = 0\n"
    store = config.load(text).store
    assert (store.path, store.keep_days) == (config.folder / "data/j.db", None)


def test_the_process_environment_is_not_looked_at(config: ConfigFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PARCHD_SITE__NAME", "from the process")
    assert config.load(changed("altitude_m = 100", "altitude_m = 101")).settings.site.name == "Quillmere Orchard"
