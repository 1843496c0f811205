"""A configuration on its way to be compiled: what the checks look at."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from parchd.config.model import Settings
from parchd.config.origins import Origins
from parchd.config.parts import Parts
from parchd.config.ranges import Range
from parchd.config.tensiometers import Tensiometer
from parchd.config.toml_lines import Loc
from parchd.config.wiring import Wiring
from parchd.contract import Problem


@dataclass(frozen=True, slots=True)
class Draft:
    """All that is known before names are looked up.

    Args:
        settings, origins: tables, and where they stand.
        broken: paths of what could not be validated, such as ``("zones", "north")``: nobody should miss it.
        gathered: the keys of all tensiometers.
        tensiometers: those that are whole.
        wirings: types of transducers by name.
        ranges: what each tensiometer can show; empty where the site could not be validated.
        deciding: by zone.
    """

    settings: Settings
    origins: Origins
    broken: frozenset[Loc]
    gathered: tuple[Parts, ...]
    tensiometers: Mapping[str, Tensiometer]
    wirings: Mapping[str, Wiring]
    ranges: Mapping[str, Range]
    deciding: Mapping[str, tuple[Tensiometer, ...]]
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    def names(self, group: str) -> set[str]:
        """All names of a group, those of broken tables among them."""
        broken = {str(loc[1]) for loc in self.broken if loc[0] == group and len(loc) > 1}
        return broken | set(getattr(self.settings, group))

    def all_broken(self, group: str) -> bool:
        """Whether a group could not be read at all, so that nothing can be said of its names."""
        return (group,) in self.broken

    def error(self, loc: Loc, *, found: str, expected: str, hint: str = "") -> None:
        self.problems.append(self.origins.problem(loc, found=found, expected=expected, hint=hint))

    def warn(self, loc: Loc, *, found: str, expected: str, hint: str = "") -> None:
        self.warnings.append(self.origins.problem(loc, found=found, expected=expected, hint=hint))


def distinct(problems: Iterable[Problem]) -> list[Problem]:
    """Say each thing once: what is wrong with a default is wrong for many tensiometers."""
    first: dict[tuple[str, int | None, str, str, str], Problem] = {}
    for problem in problems:
        key = (problem.file, problem.line, problem.key, problem.found, problem.expected)
        first.setdefault(key, problem)
    return list(first.values())
