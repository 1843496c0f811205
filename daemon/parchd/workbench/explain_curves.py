"""Curves of tension within the field: its own with a band from lowest to highest, its neighbours' thin."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import repeat

from parchd.workbench import svg
from parchd.workbench.explain_case import Explained, Track, middle_us, pieces
from parchd.workbench.explain_frame import NARROW, Frame, apart, shortened, text_width

LINE = 14.0
_SAMPLE = 14.0
STROKES = 4
"""Neighbours that can be told apart by stroke."""


@dataclass(frozen=True, slots=True)
class _Label:
    y: float
    text: str
    kind: str


def band(case: Explained, frame: Frame) -> Iterator[str]:
    """The band between the lowest and the highest within each bucket."""
    for piece in pieces(case.own, case.bucket_us):
        buckets = [case.own.buckets[number] for number in piece]
        xs = [frame.x(middle_us(case, number)) for number in piece]
        upper = [f"{x:.1f} {frame.y(bucket.high):.1f}" for x, bucket in zip(xs, buckets, strict=True)]
        lower = [f"{x:.1f} {frame.y(bucket.low):.1f}" for x, bucket in zip(xs, buckets, strict=True)]
        yield svg.path("M" + "L".join([*upper, *reversed(lower)]) + "Z", "band")


def curve(case: Explained, track: Track, frame: Frame, kind: str) -> Iterator[str]:
    """A line through the means; a lone one is a dot."""
    for piece in pieces(track, case.bucket_us):
        points = [(frame.x(middle_us(case, n)), frame.y(track.buckets[n].mean)) for n in piece]
        if len(points) == 1:
            points.append((points[0][0] + 0.5, points[0][1]))
        yield svg.path("M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points), kind)


def curves(case: Explained, frame: Frame) -> Iterator[str]:
    """All curves, its own uppermost."""
    yield from band(case, frame)
    for number, track in enumerate(case.neighbours):
        yield from curve(case, track, frame, f"other other{number % STROKES}")
    yield from curve(case, case.own, frame, "under")
    yield from curve(case, case.own, frame, "own")


def labels_width(case: Explained, width: float) -> float:
    """Room for the words at the right ends of curves."""
    others = [text_width(text) for text in _texts(case, width)[1:]]
    longest = max([text_width(_texts(case, width)[0], bold=True), *others])
    return min(longest + _SAMPLE + 10.0, 0.3 * width)


def labels(case: Explained, frame: Frame) -> Iterator[str]:
    """Words at the right ends of curves, moved apart, each with a sample of its stroke."""
    kinds = ["own", *(f"other other{number % STROKES}" for number in range(len(case.neighbours)))]
    tracks, texts = (case.own, *case.neighbours), _texts(case, frame.width)
    found = [_label(*one) for one in zip(tracks, repeat(frame), kinds, texts)]
    known = sorted((label for label in found if label is not None), key=lambda label: label.y)
    middles = apart([label.y for label in known], LINE, frame.top + 4.0, frame.bottom - 2.0)
    room = frame.width - frame.right - _SAMPLE - 8.0
    for y, label in zip(middles, known, strict=True):
        yield svg.line(frame.right + 3.0, y, frame.right + 3.0 + _SAMPLE, y, label.kind)
        bold = "bold" if label.kind == "own" else ""
        yield svg.text(frame.right + _SAMPLE + 6.0, y + 4.0, shortened(label.text, room), bold)


def _texts(case: Explained, width: float) -> list[str]:
    """Labels of its own curve and its neighbours'; where there is little room without what they have in common."""
    texts = [case.own.label, *(track.label for track in case.neighbours)]
    return without_common_part(texts) if width < NARROW else texts


def without_common_part(texts: Sequence[str]) -> list[str]:
    """Leave out whole words that all names begin with.

    >>> without_common_part(["north-1-30", "north-2-30"]), without_common_part(["north-1"])
    (['1-30', '2-30'], ['north-1'])
    """
    words, shared = [text.split("-") for text in texts], 0
    while len(words) > 1 and all(len(one) > shared + 1 and one[shared] == words[0][shared] for one in words):
        shared += 1
    return ["-".join(one[shared:]) for one in words]


def _label(track: Track, frame: Frame, kind: str, text: str) -> _Label | None:
    last = next((b.mean for b in reversed(track.buckets) if b.mean == b.mean), None)
    return None if last is None else _Label(frame.y(last), text, kind)
