"""What each alarm asks of a person, and the page that says so."""

import re
from pathlib import Path

import pytest

from parchd.alarms.findings import FINDING_OF
from parchd.alarms.kinds import DELAYED, PRIORITIES, USUAL, AlarmKind
from parchd.alarms.responses import RESPONSES, TODAY_H
from parchd.contract import Priority

PAGE = Path(__file__).parents[3] / "config" / "alarms.md"


def row(kind: AlarmKind) -> str:
    response = RESPONSES[kind]
    name = f"[`{kind}`](findings.md#{kind})" if kind in FINDING_OF else f"`{kind}`"
    parts = (name, PRIORITIES[kind].word, response.when, response.consequence, response.action, response.soon)
    return f"| {' | '.join(parts)} |"


def rows() -> list[str]:
    text = PAGE.read_text("utf-8").partition("## All alarms\n")[2].partition("\n## ")[0]
    return [line for line in text.splitlines() if re.match(r"\| \[?`", line)]


def test_the_page_lists_every_alarm_as_the_code_has_it() -> None:
    assert rows() == [row(kind) for kind in AlarmKind]


def test_the_page_gives_the_delays_that_hold_unless_somebody_sets_others() -> None:
    text = PAGE.read_text("utf-8").partition("## Settings of a kind\n")[2].partition("\n## ")[0]
    said = dict(re.findall(r"^\| `([\w-]+)` \| ([\d.]+) \|", text, re.MULTILINE))
    assert said == {kind.value: f"{USUAL[kind].on_s / 60:g}" for kind in AlarmKind if kind in DELAYED}


@pytest.mark.parametrize("kind", AlarmKind)
def test_every_alarm_says_what_follows_what_to_do_and_how_soon(kind: AlarmKind) -> None:
    response = RESPONSES[kind]
    assert all((response.when, response.consequence, response.action))
    assert "|" not in row(kind).strip("| ").replace(" | ", "")


def test_what_wakes_people_up_asks_for_a_response_the_same_day() -> None:
    urgent = {kind for kind in AlarmKind if PRIORITIES[kind] is Priority.HIGH}
    assert urgent == {AlarmKind.IRRIGATE_NOW, AlarmKind.DISK_FULL}
    assert {RESPONSES[kind].within_h for kind in urgent} == {TODAY_H}


if __name__ == "__main__":
    print("\n".join(row(kind) for kind in AlarmKind))
