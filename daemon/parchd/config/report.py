"""What people read: problems, and what a configuration amounts to."""

import textwrap
from collections.abc import Iterable
from itertools import groupby

from parchd.config.effective import effective_text
from parchd.contract import Problem

__all__ = ["effective_text", "errors_text"]

WIDTH = 80
_INDENT = " " * 14


def errors_text(problems: Iterable[Problem], noun: str = "problem") -> str:
    """Write problems for a terminal of 80 columns, file by file, with a count at the end.

    Args:
        problems: in the order in which they are shown; those of one file stand together.
        noun: what they are called, ``problem`` or ``warning``.

    >>> print(errors_text([Problem("farm.toml", 3, "site.altitude_m", '"high"', "a number")]))
    farm.toml:3: site.altitude_m
        found     "high"
        expected  a number
    <BLANKLINE>
    1 problem
    """
    problems = list(problems)
    files = ["\n".join(map(_entry, group)) for _, group in groupby(problems, key=lambda problem: problem.file)]
    count = f"{len(problems)} {noun}{'s' * (len(problems) != 1)}"
    return "\n\n".join([*files, count])


def _entry(problem: Problem) -> str:
    lines = [_head(problem)]
    for label, text in (("found", problem.found), ("expected", problem.expected), ("hint", problem.hint)):
        if text:
            lines += _wrapped(label, text)
    return "\n".join(lines)


def _head(problem: Problem) -> str:
    where = problem.file or "environment"
    if problem.line is not None:
        where += f":{problem.line}"
    one_line = f"{where}: {problem.key}"
    return one_line if len(one_line) <= WIDTH else f"{where}:\n    {problem.key}"


def _wrapped(label: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"    {label:<10}", subsequent_indent=_INDENT, break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip
