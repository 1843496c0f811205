"""Findings as bars above the field, each kind with its words once, none upon another."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from parchd.contract import Flag
from parchd.diagnosis.words import WORDS
from parchd.workbench import svg
from parchd.workbench.explain_case import Explained, Told
from parchd.workbench.explain_frame import Frame, plate, shortened, text_width

LANE = 18.0
_MOST_LANES = 6
_GAP, _LEAST_BAR = 5.0, 3.0
_HATCHED = ("fail", "suspect")
_WORD = {Flag.FAIL: "not believed: ", Flag.SUSPECT: "doubted: "}

Extent = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Bars:
    """Findings of one kind: from where to where each, and where their words begin."""

    kind: str
    spans: tuple[Extent, ...]
    words_at: float
    words: str
    lane: int = 0

    @property
    def extents(self) -> list[Extent]:
        """All that it takes of its lane, bars and words apart."""
        return [*self.spans, (self.words_at, self.words_at + text_width(self.words))]


def bars(case: Explained, frame: Frame) -> tuple[list[Bars], int]:
    """Lay out the findings, the gravest first; give those that found room, and how many did not."""
    groups: dict[tuple[object, ...], list[Told]] = {}
    for told in case.findings_within():
        groups.setdefault((told.finding.key, told.is_dismissed), []).append(told)
    taken: list[list[Extent]] = [[] for _ in range(_MOST_LANES)]
    placed, hidden = [], 0
    for group in sorted(groups.values(), key=lambda group: _rank(group[0])):
        made = _bars(group, frame)
        lane = next((n for n, extents in enumerate(taken) if _is_free(extents, made.extents)), None)
        if lane is None:
            hidden += len(group)
        else:
            taken[lane] += made.extents
            placed.append(Bars(made.kind, made.spans, made.words_at, made.words, lane))
    return placed, hidden


def _rank(told: Told) -> tuple[bool, bool, int]:
    return told.is_dismissed, told.flag not in _WORD, told.finding.start_us


def _is_free(taken: Sequence[Extent], wanted: Sequence[Extent]) -> bool:
    return all(right + _GAP < begin or left - _GAP > end for left, right in wanted for begin, end in taken)


def _bars(group: Sequence[Told], frame: Frame) -> Bars:
    first = group[0]
    spans = tuple(_span(told, frame) for told in group)
    kind = "dismissed" if first.is_dismissed else {Flag.FAIL: "fail", Flag.SUSPECT: "suspect"}.get(first.flag, "note")
    title = WORDS[first.finding.key.kind].title
    before = "dismissed: " if first.is_dismissed else _WORD.get(first.flag, "")
    for words in (before + title, title):
        if (at := _beside(spans, text_width(words), frame.width - 2.0)) is not None:
            return Bars(kind, spans, at, words)
    words = shortened(title, frame.width - 4.0)
    return Bars(kind, spans, frame.width - 2.0 - text_width(words), words)


def _span(told: Told, frame: Frame) -> Extent:
    """From where to where a finding holds; one that was dismissed held until it was found."""
    finding = told.finding
    left = frame.x(finding.start_us)
    end_us = frame.end_us if finding.ended_us is None else finding.ended_us
    right = frame.x(max(end_us, finding.found_us) if told.is_dismissed else end_us)
    return left, max(right, left + _LEAST_BAR)


def _beside(spans: Sequence[Extent], width: float, edge: float) -> float | None:
    """Find room for words of some width: within the longest bar, right of the last, left of the first."""
    left, right = max(spans, key=lambda span: span[1] - span[0])
    if width + 2 * _GAP <= right - left:
        return left + _GAP
    first, last = min(left for left, _ in spans), max(right for _, right in spans)
    if last + _GAP + width <= edge:
        return last + _GAP
    return first - _GAP - width if first - _GAP - width >= 2.0 else None


def lanes_parts(placed: Sequence[Bars], hidden: int, top: float, mark: str) -> Iterator[str]:
    """Draw bars and words; ``top`` is the upper edge of the first lane, ``mark`` as for `hatches`."""
    for one in placed:
        for left, right in one.spans:
            box = {"x": left, "y": top + LANE * one.lane + 2.0, "width": right - left, "height": LANE - 5.0}
            yield svg.element("rect", {**box, "class": f"bar {one.kind}"})
            if one.kind in _HATCHED:
                yield svg.element("rect", {**box, "fill": f"url(#{mark}{one.kind})"})
    for one in placed:
        yield plate(one.words_at, top + LANE * one.lane + 12.5, one.words)
    if hidden:
        yield svg.text(2.0, top + LANE * _lanes(placed) + 12.5, f"and {hidden} more, listed below", "soft")


def lanes_height(placed: Sequence[Bars], hidden: int) -> float:
    return LANE * (_lanes(placed) + bool(hidden))


def _lanes(placed: Sequence[Bars]) -> int:
    return 1 + max((one.lane for one in placed), default=-1)


def hatches(placed: Sequence[Bars], frame: Frame, mark: str) -> Iterator[str]:
    """Hatch the field where readings are not believed or doubted.

    Args:
        mark: goes before the names of patterns, so that two pictures fit on one page.
    """
    tall = frame.bottom - frame.top
    for one in placed:
        for left, right in one.spans if one.kind in _HATCHED else ():
            box = {"x": left, "y": frame.top, "width": right - left, "height": tall}
            yield svg.element("rect", {**box, "fill": f"url(#{mark}{one.kind})"})
            yield svg.line(left, frame.top, left, frame.bottom, "onset")
            if right < frame.right - 1.0:
                yield svg.line(right, frame.top, right, frame.bottom, "onset")
