"""The picture of a tensiometer: readable at any width, told by shape and words, gaps as gaps."""

import re
from dataclasses import replace
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from parchd.contract import Flag
from parchd.diagnosis.findings import End, Event
from parchd.diagnosis.hours import NAN
from parchd.diagnosis.kinds import EventKind, FindingKind
from parchd.testing.explained import HOUR_US, START_US, a_season, finding, some_days, track, wettings
from parchd.workbench.explain_case import Bucket, Dismissal, Explained, Told, Track, pieces
from parchd.workbench.explain_curves import without_common_part
from parchd.workbench.explain_frame import Frame, apart, is_beyond, reach, shortened, text_width
from parchd.workbench.explain_lanes import bars
from parchd.workbench.explain_marks import is_crowded, service_times
from parchd.workbench.explain_svg import SLIM, WIDE, explain_svg

SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = pytest.mark.parametrize("width", [SLIM, WIDE, 1600])
CASES = pytest.mark.parametrize("case", [some_days(), a_season()], ids=["days", "season"])


def drawn(case: Explained, width: int = WIDE) -> ElementTree.Element:
    return ElementTree.fromstring(explain_svg(case, width))


def of_class(picture: ElementTree.Element, name: str) -> list[ElementTree.Element]:
    return [element for element in picture.iter() if name in element.get("class", "").split()]


def written(picture: ElementTree.Element) -> list[str]:
    return ["".join(element.itertext()) for element in picture.iter(f"{SVG}text")]


def frame_of(case: Explained, width: float = float(WIDE)) -> Frame:
    kpa, ticks = reach(case, 6)
    return Frame(width, 38.0, width - 110.0, 0.0, 270.0, case.start_us, case.end_us, kpa, tuple(ticks))


@WIDTHS
@CASES
def test_it_is_one_well_formed_picture_that_names_nothing_outside(case: Explained, width: int) -> None:
    text = explain_svg(case, width)
    assert ElementTree.fromstring(text).get("width") == str(width)
    assert set(re.findall(r"https?://[^\"' ]+", text)) == {"http://www.w3.org/2000/svg"}
    assert "nan" not in text.lower().replace("not", "")
    assert "<script" not in text


@WIDTHS
@CASES
def test_nothing_is_written_outside_of_it(case: Explained, width: int) -> None:
    """By the width of letters that all layout reckons with."""
    for element in drawn(case, width).iter(f"{SVG}text"):
        text, x = "".join(element.itertext()), float(element.get("x", "0"))
        names = element.get("class", "").split()
        wide = text_width(text)
        left = x - wide if "n" in names else x - wide / 2 if "mid" in names else x
        if "title" not in names:
            assert left >= -8.0
            assert left + wide <= width + 4.0


def test_it_is_told_to_those_who_do_not_see_it() -> None:
    picture = drawn(some_days())
    title, desc = picture.find(f"{SVG}title"), picture.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert picture.get("role") == "img"
    assert picture.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert "cannot be believed since" in (desc.text or "")
    assert "lost water column" in (desc.text or "")


def test_spans_that_are_not_believed_or_doubted_are_hatched_and_named() -> None:
    picture = drawn(a_season())
    fills = [element.get("fill") for element in picture.iter(f"{SVG}rect")]
    assert fills.count("url(#pfail)") == 3, "field, bar, key"
    assert fills.count("url(#psuspect)") == 5, "two fields, two bars, key"
    ids = {element.get("id") for element in picture.iter(f"{SVG}pattern")}
    assert ids == {"pfail", "psuspect"}
    words = written(picture)
    for text in ("doubted: slow response", "not believed: air entry at the dry end", "noisy supply"):
        assert text in words


def test_what_was_dismissed_hatches_nothing_and_what_was_refined_is_not_drawn() -> None:
    lost = finding(FindingKind.LOST_WATER, 70.0, 75.0, ended_us=START_US + 100 * HOUR_US, end=End.RECOVERED)
    dismissed = Told(replace(lost, ended_us=lost.start_us, end=End.DISMISSED), Dismissal("Ines", "no", 0))
    refined = Told(replace(lost, ended_us=lost.start_us, end=End.REFINED))
    for told, words in ((dismissed, ["dismissed: lost water column"]), (refined, [])):
        picture = drawn(replace(some_days(), findings=(told,)))
        assert [text for text in written(picture) if "lost water" in text] == words
        assert not any(element.get("fill") == "url(#pfail)" for element in picture.iter(f"{SVG}rect"))


def test_gaps_are_gaps_and_a_lone_reading_is_a_dot() -> None:
    case = some_days()
    assert len(of_class(drawn(case), "under")) == 2
    lone = replace(case.own, buckets=(Bucket(), Bucket(1.0, 1.0, 1.0), *(Bucket() for _ in range(478))))
    (dot,) = of_class(drawn(replace(case, own=lone)), "under")
    assert dot.get("d", "").count("L") == 1


def test_a_missing_sample_or_two_make_no_gap_where_buckets_hold_one_each() -> None:
    one = Bucket(1.0, 1.0, 1.0)
    buckets = (one, Bucket(), one, one, Bucket(), Bucket(), one)
    assert [list(piece) for piece in pieces(Track("", 900.0, buckets), 900_000_000)] == [[0, 2, 3], [6]]
    assert len(list(pieces(Track("", 60.0, buckets), 900_000_000))) == 3


def test_without_any_reading_there_is_still_a_picture() -> None:
    case = some_days()
    silent = Track("north-1-30", 900.0, tuple(Bucket() for _ in case.own.buckets))
    empty = replace(
        case, own=silent, neighbours=(), temperature=silent, findings=(), events=(), services=(), flags={}, newest=None
    )
    for width in (SLIM, WIDE):
        assert of_class(drawn(empty, width), "under") == []


def test_neighbours_are_thin_lines_with_their_names_at_the_end() -> None:
    picture = drawn(some_days())
    assert {"north-1-60", "north-2-30", "north-1-30"} <= set(written(picture))
    assert len(of_class(picture, "other0")) == 2, "curve and sample"
    slim = written(drawn(some_days(), SLIM))
    assert {"1-60", "2-30", "1-30"} <= set(slim), "what all names begin with is left out where there is little room"
    assert without_common_part(["a-1", "a-1-x"]) == ["1", "1-x"]


@CASES
def test_names_at_the_ends_of_curves_do_not_touch(case: Explained) -> None:
    picture = drawn(case)
    names = {case.own.label, *(one.label for one in case.neighbours)}
    ends = [e for e in picture.iter(f"{SVG}text") if "".join(e.itertext()) in names and float(e.get("x", 0)) > 100]
    ys = sorted(float(element.get("y", 0)) for element in ends)
    assert len(ys) == len(names)
    assert all(later - early >= 13.9 for early, later in pairwise(ys))


def test_the_limits_of_the_zone_and_of_the_instrument_are_lines_with_words() -> None:
    days, season = drawn(some_days()), drawn(a_season())
    assert {"irrigate now 45 kPa", "plan 35 kPa", "↑ usable limit 84 kPa"} <= set(written(days))
    assert "usable limit 84 kPa" in written(season), "it came near"
    assert (len(of_class(days, "level")), len(of_class(season, "level"))) == (2, 3)


def test_the_temperature_has_a_field_of_its_own() -> None:
    assert len(of_class(drawn(some_days()), "warm")) == 1
    assert of_class(drawn(a_season()), "warm") == []


def test_what_happened_is_marked_and_explained_by_a_key() -> None:
    picture = drawn(a_season())
    assert {"wetting", "service", "saturation", "free water", "not believed", "doubted"} <= set(written(picture))
    seen = len(wettings(84.0, 24 * 110))
    assert len(of_class(picture, "solid")) == seen + 1, "and one in the key"
    assert len(of_class(picture, "service")) == 2


def test_wettings_that_lie_close_are_ticks() -> None:
    daily = replace(a_season(), events=wettings(12.0, 24 * 183))
    assert is_crowded(daily, frame_of(daily))
    picture = drawn(daily)
    assert of_class(picture, "solid") == []
    assert len(of_class(picture, "thin-mark")) == len(daily.events) + 1


def test_a_service_that_was_written_down_and_seen_is_marked_once() -> None:
    case = some_days()
    (service,) = case.services
    seen = Event(EventKind.SERVICE, "source/bus1", service.begin_us - HOUR_US, service.begin_us)
    assert service_times(replace(case, events=(seen,))) == [service.begin_us]
    later = replace(seen, start_us=service.end_us + HOUR_US)
    assert len(service_times(replace(case, events=(later,)))) == 2


def test_values_that_no_ground_can_have_do_not_stretch_the_axis() -> None:
    case = some_days()
    wild = replace(case.own, buckets=(Bucket(-900.0, 10.0, 9000.0), *case.own.buckets[1:]))
    kpa, _ = reach(replace(case, own=wild), 6)
    assert kpa.low > -30.0
    assert kpa.high < 120.0
    assert is_beyond(replace(case, own=wild), kpa)
    assert "at the edge: beyond the axis" in written(drawn(replace(case, own=wild)))
    assert not is_beyond(case, reach(case, 6)[0])


SPANS = st.tuples(st.sampled_from(FindingKind), st.floats(-200.0, 119.0), st.floats(0.0, 400.0), st.booleans())


@given(st.lists(SPANS, max_size=25), st.sampled_from((SLIM, WIDE)))
def test_the_words_of_findings_never_lie_upon_each_other(
    spans: list[tuple[FindingKind, float, float, bool]], width: int
) -> None:
    told = []
    for kind, begin_h, long_h, is_open in spans:
        ended_us = None if is_open else START_US + round((begin_h + long_h) * HOUR_US)
        end = None if is_open else End.RECOVERED
        told.append(Told(finding(kind, begin_h, begin_h + 1.0, ended_us=ended_us, end=end)))
    case = replace(some_days(), findings=tuple(told))
    placed, hidden = bars(case, frame_of(case, float(width)))
    assert sum(len(one.spans) for one in placed) + hidden == len(told)
    for one, other in combinations(placed, 2):
        for left, right in one.extents if one.lane == other.lane else ():
            assert all(right < begin or left > end for begin, end in other.extents)
    assert all(left >= 0.0 and right <= width for one in placed for left, right in one.extents)


def test_findings_of_one_kind_share_a_lane_and_their_words() -> None:
    stuck = [
        finding(FindingKind.STUCK_VALUE, day * 24.0, day * 24.0 + 7.0, ended_us=START_US + (day * 24 + 9) * HOUR_US,
                end=End.RECOVERED)
        for day in range(5)
    ]  # fmt: skip
    case = replace(some_days(), findings=tuple(map(Told, stuck)))
    (one,), hidden = bars(case, frame_of(case))
    assert (len(one.spans), hidden) == (5, 0)
    assert [text for text in written(drawn(case)) if "stuck" in text] == ["not believed: stuck value"]


def test_words_of_limits_stand_where_they_hide_no_curve() -> None:
    """It lies at the height of a limit on the left half, and far below on the right."""
    case = replace(some_days(), neighbours=(), findings=())
    case = replace(case, own=track("north-1-30", lambda hour: 36.0 if hour < 60.0 else 5.0, 120, HOUR_US // 4))
    picture = drawn(case)
    (plan,) = [e for e in picture.iter(f"{SVG}text") if "".join(e.itertext()) == "plan 35 kPa"]
    (now,) = [e for e in picture.iter(f"{SVG}text") if "".join(e.itertext()) == "irrigate now 45 kPa"]
    assert float(plan.get("x", 0)) > 330.0
    assert float(now.get("x", 0)) < 60.0


@given(st.lists(st.floats(0.0, 270.0), max_size=6))
def test_labels_that_are_moved_apart_stay_in_order_and_within_edges(middles: list[float]) -> None:
    placed = apart(sorted(middles), 14.0, 4.0, 268.0)
    assert all(later - early >= 13.99 for early, later in pairwise(placed))
    assert all(3.99 <= y <= 268.01 for y in placed)


def test_a_text_that_does_not_fit_is_cut() -> None:
    assert shortened("north-1-30", 200.0) == "north-1-30"
    assert text_width(shortened("north-1-30", 40.0)) <= 40.0


def test_a_finding_of_no_consequence_is_told_without_a_word_of_doubt() -> None:
    frost = Told(finding(FindingKind.FROST_RISK, 60.0, 60.0))
    assert frost.flag is Flag.PASS
    (bar,), _ = bars(replace(some_days(), findings=(frost,)), frame_of(some_days()))
    assert (bar.words, bar.kind) == ("risk of frost", "note")


def test_a_curve_of_nothing_but_gaps_has_no_name_at_its_end() -> None:
    gone = track("north-9-30", lambda _: NAN, 120, HOUR_US // 4)
    assert "north-9-30" not in written(drawn(replace(some_days(), neighbours=(gone,))))
