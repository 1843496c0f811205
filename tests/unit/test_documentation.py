"""What can be set, typed or plugged in is documented; what is documented is there."""

import argparse
import re
import threading
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from importlib import import_module
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

import parchd_adapters
from parchd.alarms.events import AlarmKey
from parchd.alarms.exporting import step_data
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Transition
from parchd.app.supervisor import SourceRunner
from parchd.cli import alarms, readings
from parchd.cli.exits import Exit
from parchd.cli.main import COMMANDS, build_parser
from parchd.config.loaded import NotifierPolicy
from parchd.config.model import PolicyTable, Settings
from parchd.config.registry import GROUPS
from parchd.config.schema import is_secret, members, models
from parchd.contract import AdapterKind, Cause, Flag, Services, Unit
from parchd.testing import FakeClock, FakeIntake
from parchd.testing.running import Running

ROOT = Path(__file__).parents[2]
ADAPTERS = Path(parchd_adapters.__file__).parent
PAGES = ROOT / "adapters" / "docs"
COMMANDS_PAGE = ROOT / "config" / "commands.md"
MARKDOWN = sorted(
    path
    for pattern in ("*.md", "adapters/**/*.md", "config/**/*.md", "docker/**/*.md", "systemd/**/*.md")
    for path in ROOT.glob(pattern)
)
KINDS = [(group, entry.name) for group in GROUPS for entry in entry_points(group=f"parchd.{group}")]
_BLOCK = re.compile(r"(?:<!-- example: (\w+) -->\n)?^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)|!\[[^\]]*\]\(([^)\s]+)\)")
_CODE = re.compile(r"`([^`\n]+)`")


def blocks(page: Path, language: str) -> list[str]:
    return [text for _, lang, text in _BLOCK.findall(page.read_text("utf-8")) if lang == language]


def words_in_code(text: str) -> set[str]:
    """All names that stand between backticks, whole and in their parts."""
    return {word for code in _CODE.findall(text) for word in (code, *re.findall(r"[\w-]+", code))}


def section(text: str, heading: str) -> str:
    """The part of a page below a heading, up to the next of its rank."""
    rank = heading.partition(" ")[0]
    after = text.partition(f"\n{heading}\n")[2]
    assert after, f"no section {heading!r}"
    return re.split(rf"\n{rank} ", after)[0]


def keys_of(model: type[BaseModel]) -> Iterator[tuple[str, str]]:
    """All keys a user may write for a model, nested ones too, each with the model it belongs to."""
    for name, info in model.model_fields.items():
        yield model.__name__, f"{name}_file" if is_secret(info) else name
        for nested in {found for member in parts(info.annotation) for found in models(member)}:
            yield from keys_of(nested)


def parts(annotation: Any) -> Iterator[Any]:
    """What a value may be, and what lists and tables of it may hold."""
    for member in members(annotation):
        yield member
        for inner in get_args(member):
            if inner is not Ellipsis:
                yield from parts(inner)


def module_of(kind: str) -> str:
    return kind.replace("-", "_")


# --- settings


def test_every_setting_is_named_on_the_page_of_settings() -> None:
    known = words_in_code((ROOT / "config" / "README.md").read_text("utf-8"))
    missing = {f"{model}.{key}" for model, key in (*keys_of(Settings), *keys_of(PolicyTable)) if key not in known}
    assert missing == set()


def test_the_examples_show_every_table() -> None:
    shown = {key for page in (ROOT / "config").glob("*.toml") for key in tomllib.loads(page.read_text("utf-8"))}
    assert set(Settings.model_fields) - shown <= {"defaults"} | shown


def test_every_policy_of_notifiers_that_is_compiled_can_be_set() -> None:
    assert len(fields(NotifierPolicy)) == len(PolicyTable.model_fields)


# --- commands


def parsers() -> Mapping[str, argparse.ArgumentParser]:
    (commands,) = (a for a in build_parser()._actions if isinstance(a, argparse._SubParsersAction))
    found: Mapping[str, argparse.ArgumentParser] = commands.choices
    return found


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_each_of_its_options_is_documented(command: str) -> None:
    text = section(COMMANDS_PAGE.read_text("utf-8"), f"## `{command}`")
    known = words_in_code(text)
    options = [option for action in parsers()[command]._actions for option in action.option_strings]
    assert [option for option in options if option not in known and option not in ("-h", "--help")] == []


@pytest.mark.parametrize("command", COMMANDS)
def test_no_option_is_documented_that_is_not_there(command: str) -> None:
    text = section(COMMANDS_PAGE.read_text("utf-8"), f"## `{command}`")
    named = {word for code in _CODE.findall(text) for word in re.findall(r"(?<![\w-])--?[a-z][a-z-]*", code)}
    options = {option for action in parsers()[command]._actions for option in action.option_strings}
    assert named - options <= {"-u", "-g"}, "options of other programs in an example"


def test_commands_and_their_pages_are_the_same_list() -> None:
    page = COMMANDS_PAGE.read_text("utf-8")
    assert re.findall(r"^## `([\w-]+)`$", page, re.MULTILINE) == list(COMMANDS) == list(parsers())
    for command, does in COMMANDS.items():
        assert f"| [`{command}`](#{command}) | {does} |" in page


def test_defaults_of_spans_are_documented() -> None:
    page = COMMANDS_PAGE.read_text("utf-8")
    for command in ("readings", "alarms", "alarm-report", "explain"):
        default = parsers()[command].get_default("since")
        assert f"default: `{default}`" in section(page, f"## `{command}`")


def test_every_exit_code_is_documented_with_its_meaning() -> None:
    rows = re.findall(
        r"^\| (\d+) \| ([^|]+) \|", section(COMMANDS_PAGE.read_text("utf-8"), "## Exit codes"), re.MULTILINE
    )
    assert rows == [(str(code.value), code.meaning) for code in Exit]


def test_columns_of_tables_are_documented() -> None:
    known = words_in_code(section(COMMANDS_PAGE.read_text("utf-8"), "## `readings`"))
    assert set(readings.COLUMNS) <= known
    assert "time_utc" in alarms.HEADING
    step = Transition(AlarmKey(AlarmKind.SILENT, "tensiometer/a"), 0, State.NORMAL, Happening.RAISED, State.NORMAL)
    assert set(step_data(step)) <= words_in_code(section(COMMANDS_PAGE.read_text("utf-8"), "## `alarms`"))


def test_flags_are_documented_as_they_are() -> None:
    text = ", ".join(f"{flag.value} {flag.word}" for flag in Flag)
    assert text in section(COMMANDS_PAGE.read_text("utf-8"), "## `readings`")
    assert text in (PAGES / "influxdb.md").read_text("utf-8")


def events() -> set[str]:
    """The events that the code logs."""
    sources = [*(ROOT / "daemon").rglob("*.py"), *(ROOT / "adapters").rglob("*.py")]
    text = "".join(path.read_text("utf-8") for path in sources if "demo" not in path.parts)
    said = {*re.findall(r'"event": "([a-z]+\.[a-z_-]+)"', text), *re.findall(r'"(message\.[a-z]+)"', text)}
    return said | {f"alarm.{happening}" for happening in Happening}


def test_events_that_are_documented_are_logged() -> None:
    rows = re.findall(r"^\| (`[a-z]+\..*?) \|", section(COMMANDS_PAGE.read_text("utf-8"), "## `run`"), re.MULTILINE)
    named = {name for row in rows for name in _CODE.findall(row)}
    assert len(named) > 15
    assert named <= events()


# --- adapters


def test_entry_points_modules_and_pages_are_the_same_list() -> None:
    modules = {path.parent.name for path in ADAPTERS.glob("*/__init__.py") if not path.parent.name.startswith("_")}
    assert {module_of(kind) for _, kind in KINDS} == modules
    assert {kind for _, kind in KINDS} == {page.stem for page in PAGES.glob("*.md")}
    assert len(KINDS) == len(modules), "no kind has two groups"


def test_installed_entry_points_are_those_of_the_project() -> None:
    """After a change of entry points the package must be installed anew."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    declared = {
        (group, name): value
        for group in GROUPS
        for name, value in project["project"]["entry-points"][f"parchd.{group}"].items()
    }
    assert {(g, e.name): e.value for g in GROUPS for e in entry_points(group=f"parchd.{g}")} == declared
    independent = next(
        c["modules"] for c in project["tool"]["importlinter"]["contracts"] if c["type"] == "independence"
    )
    assert {f"parchd_adapters.{module_of(kind)}" for _, kind in KINDS} == set(independent)


def test_the_page_for_writers_of_adapters_links_to_each_page() -> None:
    text = (ROOT / "adapters" / "README.md").read_text("utf-8")
    assert set(re.findall(r"\(docs/([\w-]+)\.md\)", text)) == {kind for _, kind in KINDS}


@pytest.mark.parametrize(("group", "kind"), KINDS)
def test_every_option_of_an_adapter_is_named_on_its_page(group: str, kind: str) -> None:
    adapter: AdapterKind[Any, Any] = import_module(f"parchd_adapters.{module_of(kind)}").KIND
    known = words_in_code((PAGES / f"{kind}.md").read_text("utf-8"))
    assert {f"{model}.{key}" for model, key in keys_of(adapter.options) if key not in known} == set()
    assert group in GROUPS


@pytest.mark.parametrize(("group", "kind"), KINDS)
def test_the_page_of_an_adapter_shows_a_table_of_its_kind(group: str, kind: str) -> None:
    tables = [tomllib.loads(block).get(group, {}) for block in blocks(PAGES / f"{kind}.md", "toml")]
    assert kind in {table.get("kind") for group_table in tables for table in group_table.values()}


def test_causes_and_units_are_documented_as_they_are() -> None:
    page = (PAGES / "influxdb.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| (\d+) \| ([^|]+) \|$", page, re.MULTILINE))
    assert rows == {str(cause.value): cause.word or "none" for cause in Cause}
    for kind in ("serial-lines", "mqtt", "replay"):
        assert {unit.value for unit in Unit} <= words_in_code((PAGES / f"{kind}.md").read_text("utf-8"))


def test_the_kinds_of_alarms_are_documented() -> None:
    known = words_in_code("".join(page.read_text("utf-8") for page in MARKDOWN))
    assert {kind.value for kind in AlarmKind} <= known


# --- the source that is shown


def shown_source() -> str:
    page = (ROOT / "adapters" / "README.md").read_text("utf-8")
    (source,) = [text for mark, _, text in _BLOCK.findall(page) if mark == "source"]
    assert isinstance(source, str)
    return source


def test_the_source_that_is_shown_works_as_it_stands(tmp_path: Path) -> None:
    space: dict[str, Any] = {"__name__": "rainbucket"}
    exec(compile(shown_source(), "rainbucket.py", "exec"), space)
    kind: AdapterKind[Any, Any] = space["KIND"]
    level = tmp_path / "level"
    level.write_text("412.5\n")
    options = kind.options.model_validate({"path": str(level), "interval_s": 0.01})
    source = kind.build(options, Services("tank", "Quillmere Orchard", FakeClock()))
    intake = FakeIntake()
    with Running(source, intake) as running:
        assert intake.wait_for(lambda intake: len(intake.samples) >= 2)
        level.write_text("much")
        assert intake.wait_for(lambda intake: intake.rejects["not a number"] > 0)
        level.unlink()
        assert running.ended(within_s=5.0)
        assert type(running.error).__name__ == "SourceLost"
    assert {(sample.channel, sample.value, sample.unit) for sample in intake.samples} == {("level", 412.5, Unit.MV)}


def test_the_source_that_is_shown_keeps_the_rules_that_stand_below_it(tmp_path: Path) -> None:
    """A stop is obeyed at once, in the middle of its long pause, under the real supervisor."""
    from parchd.app.inbox import Inbox

    space: dict[str, Any] = {"__name__": "rainbucket"}
    exec(compile(shown_source(), "rainbucket.py", "exec"), space)
    (tmp_path / "level").write_text("412.5\n")
    clock = FakeClock()
    options = space["KIND"].options.model_validate({"path": str(tmp_path / "level")})
    inbox = Inbox(0.0, clock)
    runner = SourceRunner("tank", space["KIND"].build(options, Services("tank", "Quillmere", clock)), inbox, clock)
    runner.start()
    arrived = threading.Event()
    while not arrived.is_set():
        if inbox.take(1.0):
            arrived.set()
    runner.stop()
    assert runner.join(2.0)


def test_the_table_beside_it_fits_its_options() -> None:
    tables = [tomllib.loads(block) for block in blocks(ROOT / "adapters" / "README.md", "toml")]
    (options,) = [table["sources"]["tank"] for table in tables if "sources" in table]
    space: dict[str, Any] = {"__name__": "rainbucket"}
    exec(compile(shown_source(), "rainbucket.py", "exec"), space)
    assert options.pop("kind") == "rainbucket"
    assert space["KIND"].options.model_validate(options)


# --- pages as such


@pytest.mark.parametrize("page", MARKDOWN, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_block_of_toml_parses(page: Path) -> None:
    for block in blocks(page, "toml"):
        tomllib.loads(block)


@pytest.mark.parametrize("page", MARKDOWN, ids=lambda page: str(page.relative_to(ROOT)))
def test_relative_links_lead_somewhere(page: Path) -> None:
    text = _BLOCK.sub("", page.read_text("utf-8"))
    broken = [link for link in links(text) if not leads_somewhere(page, link)]
    assert broken == []


def links(text: str) -> Iterable[str]:
    found = ("".join(groups) for groups in _LINK.findall(text))
    return (link for link in found if not re.match(r"[a-z]+:", link))


def leads_somewhere(page: Path, link: str) -> bool:
    name, _, anchor = link.partition("#")
    target = page.parent / name if name else page
    if not target.exists():
        return False
    return not anchor or anchor in anchors(target.read_text("utf-8"))


def anchors(text: str) -> set[str]:
    """The names that headings can be linked by."""
    headings = re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-") for heading in headings}


@pytest.mark.parametrize("page", MARKDOWN, ids=lambda page: str(page.relative_to(ROOT)))
def test_files_that_a_page_names_are_there(page: Path) -> None:
    """Paths of this repository between backticks."""
    text = _BLOCK.sub("", page.read_text("utf-8"))
    paths = {
        code
        for code in _CODE.findall(text)
        if re.fullmatch(r"(daemon|adapters|tests|config|systemd|docker)/[\w./-]+", code)
    }
    assert {path for path in paths if not (ROOT / path).exists()} == set()
