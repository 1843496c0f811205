"""Tensions to compare with: lines across the field, and their words where they hide least."""

from collections.abc import Iterator, Sequence

from parchd.workbench import svg
from parchd.workbench.explain_case import Explained, Track
from parchd.workbench.explain_frame import Frame, apart, plate, text_width

Level = tuple[str, float]

_PLACES = 6
_ABOVE, _BELOW, _LINE = 12.0, 3.0, 14.0
_MARGIN = 5.0


def limits(levels: Sequence[Level], frame: Frame) -> Iterator[str]:
    """Lines of those that lie within the field."""
    for _, kpa in levels:
        if kpa <= frame.kpa.high:
            yield svg.line(frame.left, frame.y(kpa), frame.right, frame.y(kpa), "level")


def limit_words(case: Explained, levels: Sequence[Level], frame: Frame) -> Iterator[str]:
    """Words above their lines, where fewest curves run; an arrow where a line lies above the field."""
    order = sorted(levels, key=lambda level: -level[1])
    ys = apart([frame.y(kpa) - _BELOW for _, kpa in order], _LINE, frame.top + _ABOVE, frame.bottom - _BELOW)
    for y, (words, kpa) in zip(ys, order, strict=True):
        arrow = "\N{UPWARDS ARROW} " if kpa > frame.kpa.high else ""
        text = f"{arrow}{words} {kpa:.0f} kPa"
        yield plate(_emptiest(case, frame, y, text_width(text)), y, text, "soft")


def _emptiest(case: Explained, frame: Frame, y: float, width: float) -> float:
    """The leftmost of some places at which the fewest buckets of curves would be hidden."""
    room = max(0.0, frame.right - frame.left - width - 2 * _MARGIN)
    places = [frame.left + _MARGIN + room * number / (_PLACES - 1) for number in range(_PLACES)]
    tracks = (case.own, *case.neighbours)
    return min(places, key=lambda x: sum(_hidden(track, frame, (x, x + width), y) for track in tracks))


def _hidden(track: Track, frame: Frame, across: tuple[float, float], y: float) -> int:
    """How many buckets of a curve lie where words would."""
    count, wide = len(track.buckets), frame.right - frame.left
    first, last = (int((x - frame.left) / wide * count) for x in across)
    top, bottom = y - _ABOVE - 2.0, y + _BELOW + 2.0
    known = [b for b in track.buckets[max(0, first) : last + 1] if b.mean == b.mean]
    return sum(frame.y(b.high) <= bottom and frame.y(b.low) >= top for b in known)
