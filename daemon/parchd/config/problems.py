"""From what pydantic says to what people can act on."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

from pydantic import BaseModel, ValidationError

from parchd.config.generic import BOTH, UNKNOWN
from parchd.config.origins import Origins, shown
from parchd.config.schema import closest, described, keys_at, suggestion
from parchd.config.secrets import three_ways
from parchd.config.toml_lines import Loc
from parchd.contract import Problem
from parchd.physics.transducers import GENERIC

Details = Mapping[str, Any]

_EXPECTED: Mapping[str, str] = MappingProxyType(
    {
        "float_type": "a number",
        "float_parsing": "a number",
        "int_type": "a whole number",
        "int_parsing": "a whole number",
        "int_from_float": "a whole number",
        "int_parsing_size": "a number of ordinary size",
        "finite_number": "a number that is finite",
        "bool_type": "true or false",
        "bool_parsing": "true or false",
        "string_type": "text in double quotes",
        "date_type": "a date such as 2026-03-01",
        "date_parsing": "a date such as 2026-03-01",
        "date_from_datetime_parsing": "a date such as 2026-03-01",
        "date_from_datetime_inexact": "a date without a time of day",
        "tuple_type": "a list in brackets",
        "list_type": "a list in brackets",
        "dict_type": "a table",
        "model_type": "a table",
        "model_attributes_type": "a table",
        "path_type": "a path in double quotes",
        "greater_than": "more than {gt}",
        "greater_than_equal": "{ge} or more",
        "less_than": "less than {lt}",
        "less_than_equal": "{le} or less",
        "too_short": "at least {min_length} of them",
        "too_long": "at most {max_length} of them",
        "string_too_short": "text of at least {min_length} characters",
        "string_too_long": "text of at most {max_length} characters",
        "literal_error": "{expected}",
        "enum": "{expected}",
        "union_tag_not_found": "a key kind that says what it is, or like with the name of a generic one",
        "value_error": "{error}",
        "path_not_file": "the path of a file that exists",
        "path_not_directory": "the path of a folder that exists",
        "path_not_exists": "a path that exists",
    }
)


class Finding(NamedTuple):
    """A problem with the path it lies at and pydantic's name for it; ``meant``: the key that is written wrong."""

    loc: Loc
    kind: str
    problem: Problem
    meant: Loc | None = None


@dataclass(frozen=True, slots=True)
class Translator:
    """Puts errors of one table into words.

    Args:
        root: the model that was validated.
        value: what was validated; it tells keys apart from the names of union members in pydantic's paths.
        origins: where keys stand.
        prefix: path of the table in the configuration.
        is_secret: paths below ``prefix`` whose values are never shown.
    """

    root: type[BaseModel]
    value: Any
    origins: Origins
    prefix: Loc = ()
    is_secret: Callable[[Loc], bool] = lambda _loc: False

    def findings(self, error: ValidationError) -> list[Finding]:
        """Translate all errors; several about one value (members of a union) become one."""
        found: dict[Loc, Finding] = {}
        for details in error.errors(include_url=False):
            loc = _real(details["loc"], details["type"], self.value)
            finding = Finding(loc, details["type"], self._problem(loc, details), self._meant(loc, details["type"]))
            found[loc] = _either(found[loc], finding) if loc in found else finding
        return [finding for finding in found.values() if not _follows(finding, found.values())]

    def _meant(self, loc: Loc, kind: str) -> Loc | None:
        if kind != "extra_forbidden":
            return None
        close = closest(str(loc[-1]), self._known(loc[:-1]))
        return (*loc[:-1], close) if close else None

    def _known(self, loc: Loc) -> tuple[str, ...]:
        return keys_at(self.root, loc, _value_at(self.value, loc))

    def _problem(self, loc: Loc, details: Details) -> Problem:
        if details["type"] == "extra_forbidden":
            return self._unknown(loc)
        if details["type"] == "missing" and isinstance(loc[-1], int):
            expected = described(self.root, loc[:-1]) or f"{loc[-1] + 1} values"
            return self._at(loc[:-1], expected=expected, found=shown(_value_at(self.value, loc[:-1])))
        if details["type"] == "missing":
            what = described(self.root, loc)
            expected = f"{loc[-1]}: {what}" if what else f"the key {loc[-1]}"
            hint = three_ways((*self.prefix, *loc)) if self.is_secret(loc) else ""
            return self._at(loc, expected=expected, found="nothing", hint=hint)
        if details["type"] == "union_tag_invalid":
            known = details["ctx"]["expected_tags"].replace("'", "").split(", ")
            return self._choice((*loc, "kind"), details["ctx"]["tag"], known)
        if details["type"] == UNKNOWN:
            return self._choice((*loc, "like"), details["input"]["like"], list(GENERIC))
        if details["type"] == BOTH:
            hint = "like says what kind it is"
            return self._at((*loc, "like"), found="like together with kind", expected="one of them", hint=hint)
        if details["type"] == "literal_error":
            known = details["ctx"]["expected"].replace("'", "").replace(" or ", ", ").split(", ")
            return self._choice(loc, details["input"], known)
        return self._wrong(loc, details)

    def _unknown(self, loc: Loc) -> Problem:
        known = self._known(loc[:-1])
        hint = suggestion(str(loc[-1]), known)
        return self._at(loc, found="an unknown key", expected=one_of(known), hint=hint)

    def _choice(self, loc: Loc, found: Any, known: list[str]) -> Problem:
        hint = suggestion(found, known) if isinstance(found, str) else ""
        return self._at(loc, found=shown(found), expected=one_of(known), hint=hint)

    def _wrong(self, loc: Loc, details: Details) -> Problem:
        whole = details["type"] == "value_error" and isinstance(details["input"], Mapping)
        found = "a secret" if self.is_secret(loc) else "" if whole else shown(details["input"])
        decimal = details["type"] == "float_parsing" and "," in str(details["input"])
        hint = "decimals are written with a point: 2.5" if decimal else ""
        return self._at(loc, found=found, expected=_expected(details), hint=hint)

    def _at(self, loc: Loc, *, expected: str, found: str, hint: str = "") -> Problem:
        return self.origins.problem((*self.prefix, *loc), expected=expected, found=found, hint=hint)


def one_of(words: Iterable[str]) -> str:
    """
    >>> one_of(["mqtt", "sim"]), one_of(["sim"])
    ('one of mqtt, sim', 'sim')
    """
    words = sorted(words)
    return f"one of {', '.join(words)}" if len(words) != 1 else words[0]


def _follows(finding: Finding, others: Iterable[Finding]) -> bool:
    """Tell whether a finding only follows from another: a key is missing that is written wrong, a list too short
    because its elements are wrong."""
    if finding.kind == "missing":
        return any(other.meant == finding.loc for other in others)
    depth = len(finding.loc)
    return finding.kind == "too_short" and any(o.loc[:depth] == finding.loc and len(o.loc) > depth for o in others)


def _expected(details: Details) -> str:
    pattern = _EXPECTED.get(details["type"])
    if pattern is None:
        return str(details["msg"]).removeprefix("Input should be ")
    context = {k: f"{v:g}" if isinstance(v, int | float) else v for k, v in details.get("ctx", {}).items()}
    return pattern.format(**context)


def _either(one: Finding, other: Finding) -> Finding:
    first, second = one.problem, other.problem
    if second.expected in first.expected:
        return one
    expected = f"{first.expected}, or {second.expected}"
    return one._replace(problem=Problem(first.file, first.line, first.key, first.found, expected, first.hint))


def _real(loc: Loc, kind: str, value: Any) -> Loc:
    """Leave out of a path what is no key: names of union members, and the mark of a wrong name."""
    real: Loc = ()
    for position, key in enumerate(loc):
        inside, below = _step(value, key)
        if inside:
            value = below
        if inside or (kind == "missing" and position == len(loc) - 1):
            real = (*real, key)
    return real


def _step(value: Any, key: str | int) -> tuple[bool, Any]:
    if isinstance(value, Mapping) and key in value:
        return True, value[key]
    if isinstance(value, list | tuple) and isinstance(key, int) and 0 <= key < len(value):
        return True, value[key]
    return False, None


def _value_at(value: Any, loc: Loc) -> Any:
    for key in loc:
        value = _step(value, key)[1]
    return value
