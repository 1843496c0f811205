"""What a terminal shows of a tensiometer, and what a page does."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from parchd.diagnosis.kinds import FindingKind
from parchd.testing.explained import a_season, some_days, wettings
from parchd.workbench.chart_text import ASCII, BRAILLE, Letters
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_page import explain_page
from parchd.workbench.explain_text import explain_lines

CASES = pytest.mark.parametrize("case", [some_days(), a_season()], ids=["days", "season"])


def lines_of(case: Explained, columns: int = 79, letters: Letters = ASCII) -> list[str]:
    return list(explain_lines(case, columns, letters))


@CASES
@pytest.mark.parametrize("columns", [60, 79, 140])
@pytest.mark.parametrize("letters", [ASCII, BRAILLE], ids=["ascii", "braille"])
def test_no_line_is_wider_than_the_terminal(case: Explained, columns: int, letters: Letters) -> None:
    assert max(map(len, lines_of(case, columns, letters))) <= columns


@CASES
def test_plain_letters_are_plain(case: Explained) -> None:
    assert "".join(lines_of(case)).replace("°", "").isascii()


def test_the_strips_stand_below_the_spans_they_speak_of() -> None:
    """The fall comes 70 hours after the begin of 120, the service 20 hours after it."""
    lines = lines_of(some_days())
    floor = next(number for number, line in enumerate(lines) if line.lstrip().startswith("+"))
    gutter = lines[floor].index("+") + 1
    wide = 79 - gutter
    findings, happened, labels = lines[floor + 1 : floor + 4]
    assert abs(findings.index("X") - gutter - 70 / 120 * wide) <= 1
    assert findings.rstrip() == findings[: findings.index("X")] + "X" * (79 - findings.index("X"))
    assert abs(happened.index("S") - gutter - 20 / 120 * wide) <= 1
    assert "2 Jun" in labels
    assert "X cannot be believed  S service" in lines[floor + 4]


def test_a_season_shows_all_its_signs_and_the_last_of_what_happened() -> None:
    text = "\n".join(lines_of(a_season()))
    for sign in ("? doubted", "- worth knowing", "v wetting", "~ free water"):
        assert sign in text
    assert re.search(r"\d+ more before that", text)
    assert "(written down)" not in text.partition("What happened")[2], "it was long before the last ones"


def test_findings_stand_with_their_evidence_and_what_to_do() -> None:
    lines = lines_of(some_days())
    start = lines.index("  lost water column [cannot be believed]")
    assert "    Fell by                      21.4 kPa" in lines[start:]
    assert any(line.startswith("    1. Do not take this spot for wet.") for line in lines[start:])
    assert any(line.startswith("    Trusted again: Only after") for line in lines[start:])


def test_without_findings_and_events_that_is_said() -> None:
    quiet = replace(some_days(), findings=(), events=(), services=(), flags={})
    text = "\n".join(lines_of(quiet))
    for said in ("none within this span", "nothing was seen or written down", "none  within this span"):
        assert said in text


def test_what_a_finding_means_is_said_once() -> None:
    told = a_season().findings
    text = " ".join(" ".join(lines_of(replace(a_season(), findings=(*told, told[0])))).split())
    assert text.count("It follows the soil late") == 1


def test_of_many_findings_that_are_over_the_last_are_told_and_the_others_counted() -> None:
    (told,) = [one for one in a_season().findings if one.finding.key.kind is FindingKind.NOISY_SUPPLY]
    many = replace(a_season(), findings=(*a_season().findings, *[told] * 40))
    assert "  36 more that were over before are left out" in lines_of(many)
    assert "14 more that were over before are left out." in explain_page(many)
    assert "air entry at the dry end [cannot be believed]" in "".join(lines_of(many)), "what holds is never left out"


# --- the page


@CASES
def test_the_page_is_one_well_formed_document_without_script_or_outside(case: Explained) -> None:
    page = explain_page(case)
    root = ElementTree.fromstring(page.partition("\n")[2])
    assert root.get("lang") == "en"
    assert not re.search(r"<script|<link|url\((?!#)|src=|href=", page)
    assert set(re.findall(r"https?://[^\"' ]+", page)) == {"http://www.w3.org/2000/svg"}


@CASES
def test_every_name_on_the_page_is_given_once(case: Explained) -> None:
    ids = re.findall(r'\bid="([^"]+)"', explain_page(case))
    assert len(ids) == len(set(ids)) == 8, "title, description and two patterns of two pictures"


def test_the_page_has_the_state_the_evidence_as_a_table_and_the_steps() -> None:
    page = explain_page(some_days())
    assert '<p class="note state">north-1-30 cannot be believed since' in page
    assert "<caption>Evidence of lost water column</caption>" in page
    assert '<th scope="row">Fell by</th><td>21.4 kPa</td>' in page
    assert "<ol><li>Do not take this spot for wet." in page
    assert "Dismissed findings" in page
    assert "we raised the tube that day" in page
    assert "2 more of the zone are not drawn" in page


def test_words_from_people_are_only_words_on_the_page() -> None:
    case = some_days()
    (service,) = case.services
    page = explain_page(replace(case, services=(replace(service, note="<b onload=x>&"),)))
    assert "&lt;b onload=x&gt;&amp;" in page
    assert "<b onload" not in page


def test_a_page_without_anything_says_so() -> None:
    page = explain_page(replace(some_days(), findings=(), events=(), services=(), flags={}))
    for said in ("None within this span.", "Nothing was seen", "There are no readings within this span."):
        assert said in page


def test_a_page_leaves_out_what_happened_long_ago_and_says_how_much() -> None:
    many = replace(a_season(), events=wettings(12.0, 24 * 183))
    assert f"The last 200; {len(many.events) + 1 - 200} before them are left out." in explain_page(many)
