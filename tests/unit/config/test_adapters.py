"""Options of sources, sinks and notifiers, and what every notifier has besides."""

from datetime import time
from pathlib import Path

import pytest
from pydantic import Field, FilePath, model_validator

from parchd.config.loaded import NotifierPolicy
from parchd.config.words import policy_words
from parchd.contract import AdapterKind, Options, Priority, Services
from parchd.testing.config_folder import BASE, ConfigFolder, FakeEntryPoint, Installed, changed, line_of


class Part(Options):
    file: Path | None = None


class LampOptions(Options):
    pins: tuple[int, ...] = Field(min_length=1, description="pins of the lamp")
    bright: float | int = Field(1.0, le=10)
    mode: int | str = 1
    file: FilePath | None = None
    parts: dict[str, Part] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _no_bright_first_pin(self) -> "LampOptions":
        if self.pins[0] == 0:
            raise ValueError("another first pin than 0")
        return self


def build(options: LampOptions, services: Services) -> object:
    return options, services


LAMP = BASE + '[sinks.lamp]\nkind = "lamp"\n'


@pytest.fixture(autouse=True)
def lamp(monkeypatch: pytest.MonkeyPatch) -> None:
    entry = FakeEntryPoint("lamp", AdapterKind(LampOptions, build))
    monkeypatch.setattr("parchd.config.registry.entry_points", Installed(sinks=[entry]))


def test_options_are_validated_by_the_adapters_own_model(config: ConfigFolder) -> None:
    entry = config.load(LAMP + "pins = [4, 5]\n").sinks["lamp"]
    assert (entry.group, entry.name, entry.kind) == ("sinks", "lamp", "lamp")
    assert entry.options == LampOptions(pins=(4, 5))
    assert entry.factory.options is LampOptions


@pytest.mark.parametrize(
    ("keys", "key", "found", "expected"),
    [
        ('pins = [4, "five"]', "sinks.lamp.pins[2]", '"five"', "a whole number"),
        ("pins = []", "sinks.lamp.pins", "a list of 0", "at least 1 of them"),
        ("pins = [4]\nbright = 20", "sinks.lamp.bright", "20", "10 or less"),
        ("pins = [4]\nbrigth = 2", "sinks.lamp.brigth", "an unknown key", "one of bright, file, mode, parts, pins"),
        ('pins = [4]\nfile = "no.txt"', "sinks.lamp.file", None, "the path of a file that exists"),
        ("pins = [4]\nmode = [1]", "sinks.lamp.mode", "a list of 1", "a whole number, or text in double quotes"),
        ("pins = [4]\nparts.a.colour = 1", "sinks.lamp.parts.a.colour", "an unknown key", "file"),
    ],
)
def test_a_wrong_option_has_its_line(
    config: ConfigFolder, keys: str, key: str, found: str | None, expected: str
) -> None:
    text = f"{LAMP}{keys}\n"
    problem = config.problem(text)
    assert (problem.key, problem.expected) == (key, expected)
    assert found is None or problem.found == found
    assert problem.line == line_of(keys.splitlines()[-1], text)


def test_a_missing_option_has_the_line_of_its_table(config: ConfigFolder) -> None:
    problem = config.problem(LAMP)
    assert (problem.line, problem.key) == (line_of("[sinks.lamp]", LAMP), "sinks.lamp.pins")
    assert problem.expected == "pins: pins of the lamp"


def test_options_that_do_not_fit_together_have_the_line_of_their_table(config: ConfigFolder) -> None:
    problem = config.problem(LAMP + "pins = [0]\n")
    assert (problem.line, problem.key, problem.found) == (line_of("[sinks.lamp]", LAMP), "sinks.lamp", "")
    assert problem.expected == "another first pin than 0"


def test_relative_paths_start_from_the_file_they_stand_in(config: ConfigFolder) -> None:
    config.write("farm.d/lamp.txt", "")
    config.write("farm.d/lamp.toml", '[sinks.lamp]\nfile = "lamp.txt"\n[sinks.lamp.parts.a]\nfile = "/etc/part"\n')
    text = 'include = "farm.d"\n' + LAMP + 'pins = [4]\n[sinks.lamp.parts.b]\nfile = "b.txt"\n'
    options = config.load(text).sinks["lamp"].options
    assert isinstance(options, LampOptions)
    assert options.file == config.folder / "farm.d/lamp.txt"
    assert {name: part.file for name, part in options.parts.items()} == {
        "a": Path("/etc/part"),
        "b": config.folder / "b.txt",
    }


def test_a_fingerprint_changes_with_options_and_kind_only(config: ConfigFolder) -> None:
    first = config.load(LAMP + "pins = [4]\n")
    same = config.load(LAMP.replace("plan_kpa = 30", "plan_kpa = 29") + "bright = 1.0\npins = [4]\n")
    other = config.load(LAMP + "pins = [5]\n")
    assert first.fingerprint("sinks.lamp") == same.fingerprint("sinks.lamp") != other.fingerprint("sinks.lamp")
    assert first.fingerprint("sources.bus1") == other.fingerprint("sources.bus1")


def test_a_fingerprint_changes_with_a_secret(config: ConfigFolder) -> None:
    prints = set()
    for password in ("one", "two"):
        config.environ |= {"PARCHD_NOTIFIERS__HOOK__AUTHORIZATION": password}
        prints.add(config.load().fingerprint("notifiers.hook"))
    assert len(prints) == 2


def test_a_fingerprint_of_nobody_is_a_key_error(config: ConfigFolder) -> None:
    with pytest.raises(KeyError):
        config.load().fingerprint("sinks.nobody")


def test_a_notifier_has_a_usual_policy(config: ConfigFolder) -> None:
    assert config.load().notifiers["hook"].policy == NotifierPolicy(Priority.LOW, 6, None, Priority.HIGH, digest=True)


def test_a_notifier_for_programs_gets_every_step(config: ConfigFolder) -> None:
    policy = config.load(BASE + "transitions = true\nmax_per_hour = 1000\n").notifiers["hook"].policy
    assert policy.transitions
    assert policy_words(policy) == "every step in the life of alarms; at most 1000 messages an hour"


def test_a_notifiers_policy_is_no_option_of_its_kind(config: ConfigFolder) -> None:
    policy = 'lowest_priority = "medium"\nmax_per_hour = 2\nquiet_hours = ["21:00", "06:00"]\n'
    policy += 'quiet_lets_pass = "nothing"\ndigest = false\n'
    loaded = config.load(BASE + policy)
    assert loaded.notifiers["hook"].policy == NotifierPolicy(
        Priority.MEDIUM, 2, (time(21), time(6)), None, digest=False
    )
    assert loaded.fingerprint("notifiers.hook") == config.load().fingerprint("notifiers.hook")


@pytest.mark.parametrize(
    ("keys", "key", "expected"),
    [
        ('lowest_priority = "urgent"', "lowest_priority", "one of low, medium, high"),
        ("max_per_hour = 0", "max_per_hour", "1 or more"),
        ('quiet_hours = ["21:00"]', "quiet_hours", "start and end of the quiet hours"),
        ('quiet_hours = ["21:00", "25:00"]', "quiet_hours[2]", "a time of day"),
        ('quiet_hours = ["06:00", "06:00"]', "quiet_hours", "two different times"),
        ('digest = "perhaps"', "digest", "true or false"),
    ],
)
def test_a_wrong_policy_has_its_line(config: ConfigFolder, keys: str, key: str, expected: str) -> None:
    problem = config.problem(f"{BASE}{keys}\n")
    assert (problem.key, problem.line) == (f"notifiers.hook.{key}", BASE.count("\n") + 1)
    assert problem.expected.startswith(expected)


def test_policy_words_are_for_notifiers_only(config: ConfigFolder) -> None:
    assert (
        config.problem(changed('port = "/dev/ttyUSB0"', 'port = "/dev/ttyUSB0"\ndigest = true')).found
        == "an unknown key"
    )
