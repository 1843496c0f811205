"""The page, its pictures and lists."""

from itertools import pairwise
from xml.etree import ElementTree

import pytest

from parchd.diagnosis.kinds import FindingKind as K
from parchd.evaluation.delays import delays_svg
from parchd.evaluation.exam import Exam
from parchd.evaluation.examples import examples
from parchd.evaluation.heat import Heat, colour, heat_svg
from parchd.evaluation.listing import listed
from parchd.evaluation.making import Making
from parchd.evaluation.report import report_page
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.score import Stray
from parchd.evaluation.strata import by_interval, by_size, by_soil, over_kinds
from parchd.evaluation.tally import tally
from parchd.testing.judged import aside, chain, fault, found, missed, season
from parchd.workbench.chart import Chart, Look, Series, Span

RESULTS = [
    season(1_000_001, found(form="collapse"), missed(form="slow"), strays=(Stray(chain(K.CRACKED_CUP), fault()),)),
    season(1_000_002, found(K.AIR_ENTRY, 30.0), aside(K.ZERO_DRIFT), strays=(Stray(chain(name="creek-1-30")),)),
    season(1_000_003, faulty=False),
]
CHART = Chart("one of them", "days", "kPa", Span(0, 1), Span(0, 1), (Series(Look.LINE, ((0.0, 0.0), (1.0, 1.0))),))


def page(results: list[SeasonResult] = RESULTS, exam: Exam | None = None) -> str:
    return report_page(
        results, tally(results), Making(exam or Exam(2, 1), "0123"), [("lost-water: found after 4.0 h", CHART)]
    )


def text_of(markup: str) -> str:
    tree = ElementTree.fromstring(markup.partition("\n")[2])  # our own page
    return " ".join(" ".join(tree.itertext()).split())


def test_the_page_is_well_formed_and_names_nothing_outside_of_itself() -> None:
    text_of(page())
    assert "http" not in page().replace('xmlns="http://www.w3.org/2000/svg"', "")


def test_the_page_has_aims_kinds_and_limits() -> None:
    text = text_of(page())
    assert "recall over all kinds at least 0.95 0.667 missed" in text
    assert "lost-water (slow)" in text
    assert "Season 1000001: lost-water (slow) of tensiometer/north-1-30" in text
    assert "nothing was wrong with it" in text
    assert "faults as we model them" in text
    assert "parchd evaluate --first-seed 1000001 --seasons 2 --healthy 1" in text


def test_the_same_results_give_the_same_page() -> None:
    assert page() == page()


def test_a_page_of_tuning_seeds_says_so() -> None:
    assert "CAUTION" not in page()
    assert "CAUTION: these seeds are for tuning" in page(exam=Exam(2, 1, first_seed=1))


def test_a_page_of_nothing_is_a_page() -> None:
    assert "None." in text_of(page([]))


def test_a_darker_cell_is_more() -> None:
    lightness = [int(colour(share / 20)[1:3], 16) for share in range(21)]
    assert all(before > after for before, after in pairwise(lightness))


def test_names_in_a_picture_are_escaped() -> None:
    drawn = heat_svg(Heat("a & b", ["<r>"], ["<c>"], {("<r>", "<c>"): 1.0}, {("<r>", "<c>"): "1"}), "true", "said")
    assert "&lt;r&gt;" in "".join(ElementTree.tostring(ElementTree.fromstring(drawn), encoding="unicode"))


def test_delays_are_drawn_along_a_scale_that_ends() -> None:
    rows = tally([season(1, found(after_h=0.01), found(after_h=1e6))]).rows
    tree = ElementTree.fromstring(delays_svg(rows))
    width = float(tree.attrib["viewBox"].split()[2])
    assert all(0.0 <= float(one.attrib["x2"]) <= width for one in tree.iter("line"))


@pytest.mark.parametrize(("size", "part"), [(0.0, "0 to 0.25"), (0.25, "to 0.5"), (0.74, "to 0.75"), (1.0, "to 1")])
def test_sizes_are_parted_into_quarters(size: float, part: str) -> None:
    ((_, name),) = by_size([season(1, found(), size=size)])
    assert name == part


def test_parts_count_what_can_be_seen_only() -> None:
    strata = by_soil([season(1, found(), missed(), aside())])
    assert {key: (share.found, share.faults) for key, share in strata.items()} == {("lost-water", "loam"): (1, 2)}
    assert over_kinds(by_interval([season(1, found(), missed(K.SWAPPED))]))["15 min"].recall == 0.5


def test_the_example_of_a_kind_is_the_one_with_the_most_ordinary_delay() -> None:
    results = [season(3, found(after_h=40.0)), season(2, found(after_h=5.0)), season(1, found(after_h=4.0))]
    assert [one.result.seed for one in examples(results, K)] == [2]


def test_a_kind_that_was_never_found_has_a_missed_example() -> None:
    (example,) = examples([season(1, missed(K.SWAPPED)), season(2, aside(K.ZERO_DRIFT))], K)
    assert example.judged.fault.kind is K.SWAPPED


def test_the_list_has_what_is_needed_to_look_at_a_case() -> None:
    lines = list(listed(RESULTS, list(K)))
    assert lines[0] == "season 1000001: loam; tomatoes; dry summer"
    (miss,) = [line for line in lines if "MISSED" in line]
    assert "lost-water (slow) of tensiometer/north-1-30, size 3.00, from 01-11 00:00" in miss
    assert "[loam, 15 min]" in miss
    false = [line for line in lines if "FALSE" in line]
    assert "beside lost-water of tensiometer/north-1-30" in false[0]
    assert false[1].endswith("on what is healthy")
    assert "    fell by 12.5 kPa; since 01-11 00:00" in "\n".join(lines)


def test_the_list_holds_to_the_kinds_that_were_asked_for() -> None:
    assert list(listed(RESULTS, [K.SWAPPED])) == []
