"""A folder with a configuration, for tests that need one; and adapters that exist only in a test."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any

from parchd.config import Loaded, load
from parchd.contract import ConfigError, Problem

BASE = """\
[site]
name = "Quillmere Orchard"
time_zone = "Europe/Lisbon"
altitude_m = 100

[transducers.vac]
kind = "ratiometric"
low_kpa = 0
high_kpa = -100

[zones.north]
plan_kpa = 30
now_kpa = 40

[sources.bus1]
kind = "serial-lines"
port = "/dev/ttyUSB0"
fields = ["a0:V", "a1:V"]

[tensiometers.n1]
zone = "north"
depth_cm = 30
height_cm = 45
channel = "bus1/a0"
transducer = "vac"

[notifiers.hook]
kind = "webhook"
url = "http://localhost:9/hook"
allow_private = true
"""
"""A small configuration in which nothing is wrong or odd."""


@dataclass(slots=True)
class ConfigFolder:
    """Writes a configuration and looks at what becomes of it. Problems name files without the folder."""

    folder: Path
    environ: dict[str, str] = field(default_factory=dict)
    credentials: Path | None = None

    def write(self, name: str, text: str) -> Path:
        """Write a file below the folder."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def load(self, text: str = BASE) -> Loaded:
        """Write ``farm.toml`` and load it."""
        return load(self.write("farm.toml", text), self.environ, self.credentials)

    def problems(self, text: str = BASE) -> list[Problem]:
        """Everything that is wrong; empty if nothing is."""
        try:
            self.load(text)
        except ConfigError as error:
            return [self._short(problem) for problem in error.problems]
        return []

    def problem(self, text: str = BASE) -> Problem:
        """The one thing that is wrong.

        Raises:
            AssertionError: nothing is, or more.
        """
        problems = self.problems(text)
        assert len(problems) == 1, "\n".join(map(str, problems)) or "nothing is wrong"
        return problems[0]

    def warnings(self, text: str = BASE) -> list[Problem]:
        """What is odd with a configuration that can be used."""
        return [self._short(problem) for problem in self.load(text).warnings]

    def warning(self, text: str = BASE) -> Problem:
        """The one thing that is odd.

        Raises:
            AssertionError: nothing is, or more.
        """
        warnings = self.warnings(text)
        assert len(warnings) == 1, "\n".join(map(str, warnings)) or "nothing is odd"
        return warnings[0]

    def _short(self, problem: Problem) -> Problem:
        cut = f"{self.folder}/"
        texts = {key: getattr(problem, key).replace(cut, "") for key in ("file", "key", "found", "expected", "hint")}
        return replace(problem, **texts)


def changed(old: str, new: str, text: str = BASE) -> str:
    """Change the one place that has ``old``.

    >>> changed("altitude_m = 100", "altitude_m = 1500").splitlines()[3]
    'altitude_m = 1500'
    """
    assert text.count(old) == 1, f"{text.count(old)} places have {old!r}"
    return text.replace(old, new)


def line_of(part: str, text: str) -> int:
    """The number of the one line that has this part.

    >>> line_of("altitude_m", BASE)
    4
    """
    (line,) = [number for number, content in enumerate(text.splitlines(), 1) if part in content]
    return line


@dataclass(frozen=True, slots=True)
class _Distribution:
    name: str


@dataclass(frozen=True, slots=True)
class FakeEntryPoint:
    """An entry point that hands over ``target``, or raises it if it is an exception."""

    name: str
    target: object
    owner: str = "parchd"
    value: str = "somewhere:KIND"

    @property
    def dist(self) -> _Distribution:
        return _Distribution(self.owner)

    def load(self) -> object:
        if isinstance(self.target, Exception):
            raise self.target
        return self.target


class Installed:
    """Stands in for the installed entry points: groups that are set are fakes, the others are real."""

    def __init__(self, **groups: Iterable[FakeEntryPoint]) -> None:
        self._groups = {f"parchd.{group}": list(entries) for group, entries in groups.items()}

    def __call__(self, *, group: str) -> Iterable[EntryPoint | Any]:
        return self._groups[group] if group in self._groups else entry_points(group=group)
