"""Findings as bars above the field, each with its words, none upon another."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from parchd.contract import Flag
from parchd.diagnosis.findings import End
from parchd.diagnosis.words import WORDS
from parchd.workbench import svg
from parchd.workbench.explain_case import Explained, Told
from parchd.workbench.explain_frame import Frame, plate, shortened, text_width

LANE = 18.0
_MOST_LANES = 6
_GAP, _LEAST_BAR = 5.0, 3.0
_HATCHED = ("fail", "suspect")
_WORD = {Flag.FAIL: "not believed: ", Flag.SUSPECT: "doubted: "}


@dataclass(frozen=True, slots=True)
class Bar:
    """One finding: from where to where, and where its words begin."""

    told: Told
    left: float
    right: float
    words_at: float
    words: str
    lane: int

    @property
    def kind(self) -> str:
        """How it is drawn."""
        if self.told.is_dismissed:
            return "dismissed"
        return {Flag.FAIL: "fail", Flag.SUSPECT: "suspect"}.get(self.told.flag, "note")


def bars(case: Explained, frame: Frame) -> tuple[list[Bar], int]:
    """Lay out the findings, the gravest first; give those that found room, and how many did not."""
    shown = [told for told in case.findings if told.finding.end is not End.REFINED]
    order = sorted(shown, key=lambda told: (told.is_dismissed, told.flag not in _WORD, told.finding.start_us))
    ends: list[list[tuple[float, float]]] = [[] for _ in range(_MOST_LANES)]
    placed: list[Bar] = []
    for told in order:
        bar = _bar(told, frame)
        first, last = min(bar.left, bar.words_at), max(bar.right, bar.words_at + text_width(bar.words))
        lane = next((n for n, taken in enumerate(ends) if _free(taken, first, last)), None)
        if lane is not None:
            ends[lane].append((first, last))
            placed.append(Bar(told, bar.left, bar.right, bar.words_at, bar.words, lane))
    return placed, len(shown) - len(placed)


def _free(taken: Sequence[tuple[float, float]], first: float, last: float) -> bool:
    return all(last + _GAP < begin or first - _GAP > end for begin, end in taken)


def _bar(told: Told, frame: Frame) -> Bar:
    """Put its words into the bar or beside it; where there is no room, only its title."""
    finding = told.finding
    left = frame.x(finding.start_us)
    right = max(frame.x(frame.end_us if finding.ended_us is None else finding.ended_us), left + _LEAST_BAR)
    if told.is_dismissed:
        right = max(right, frame.x(finding.found_us))
    title = WORDS[finding.key.kind].title
    before = "dismissed: " if told.is_dismissed else _WORD.get(told.flag, "")
    for words in (before + title, title):
        if (at := _beside(left, right, text_width(words), frame.width - 2.0)) is not None:
            return Bar(told, left, right, at, words, 0)
    words = shortened(title, frame.width - 4.0)
    return Bar(told, left, right, frame.width - 2.0 - text_width(words), words, 0)


def _beside(left: float, right: float, width: float, edge: float) -> float | None:
    """Find room for words of some width: within a bar, right of it, left of it."""
    if width + 2 * _GAP <= right - left:
        return left + _GAP
    if right + _GAP + width <= edge:
        return right + _GAP
    return left - _GAP - width if left - _GAP - width >= 2.0 else None


def lanes_parts(placed: Sequence[Bar], hidden: int, top: float, mark: str) -> Iterator[str]:
    """Draw bars and words; ``top`` is the upper edge of the first lane, ``mark`` as for `hatches`."""
    for bar in placed:
        y = top + LANE * bar.lane
        box = {"x": bar.left, "y": y + 2.0, "width": bar.right - bar.left, "height": LANE - 5.0}
        yield svg.element("rect", {**box, "class": f"bar {bar.kind}"})
        if bar.kind in _HATCHED:
            yield svg.element("rect", {**box, "fill": f"url(#{mark}{bar.kind})"})
    for bar in placed:
        yield plate(bar.words_at, top + LANE * bar.lane + 12.5, bar.words)
    if hidden:
        yield svg.text(2.0, top + LANE * _lanes(placed) + 12.5, f"and {hidden} more, listed below", "soft")


def lanes_height(placed: Sequence[Bar], hidden: int) -> float:
    return LANE * (_lanes(placed) + bool(hidden))


def _lanes(placed: Sequence[Bar]) -> int:
    return 1 + max((bar.lane for bar in placed), default=-1)


def hatches(placed: Sequence[Bar], frame: Frame, mark: str) -> Iterator[str]:
    """Hatch the field where readings are not believed or doubted.

    Args:
        mark: goes before the names of patterns, so that two pictures fit on one page.
    """
    for bar in placed:
        if bar.kind in _HATCHED:
            width = bar.right - bar.left
            fill = {"x": bar.left, "y": frame.top, "width": width, "height": frame.bottom - frame.top}
            yield svg.element("rect", {**fill, "fill": f"url(#{mark}{bar.kind})"})
            yield svg.line(bar.left, frame.top, bar.left, frame.bottom, "onset")
            if bar.right < frame.right - 1.0:
                yield svg.line(bar.right, frame.top, bar.right, frame.bottom, "onset")
