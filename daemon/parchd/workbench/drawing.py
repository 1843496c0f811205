"""One tensiometer to scale, with its dimensions, as inline SVG.

Lengths are to scale. The tube is drawn at least 2.6 mm wide, so that it can be seen at any scale.
"""

from collections.abc import Iterable, Sequence

from parchd.workbench import svg
from parchd.workbench.geometry import TEE_STOP_MM, Instrument
from parchd.workbench.lengths import Ruler
from parchd.workbench.parts import Closure, Readout

WIDTH_MM = 60.0
TALLEST_MM = 110.0
LEAST_MM = 40.0
"""Of paper: between these a drawing can be read and fits a page."""

SCALES = (5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100)

_TUBE_MM, _TEE_MM, _BRANCH_MM, _CLOSURE_MM = 21.0, 50.0, 20.0, 15.0
_MIDDLE, _HEIGHT_X, _DEPTH_X, _CHAIN_X, _PIECES_X, _LABEL_X = 20.0, 4.0, 10.5, 33.0, 39.5, 41.3
_TOP, _BOTTOM, _LABEL_GAP, _SMALLER, _LETTER = 5.0, 3.0, 6.4, 3.0, 1.6


def scales_for(instruments: Sequence[Instrument]) -> list[int]:
    """Choose the scales of a sheet's drawings, each 1 to this: one for all, larger for what would be too small.

    >>> scales_for([Instrument(300.0, 1), Instrument(600.0, 1)])
    [10, 10]
    >>> scales_for([Instrument(150.0, 1), Instrument(2000.0, 1)])
    [12, 25]
    """
    lengths = [instrument.length_mm + _CLOSURE_MM for instrument in instruments]
    common = next((scale for scale in SCALES if max(lengths) / scale <= TALLEST_MM), SCALES[-1])
    return [max((s for s in SCALES if s <= common and length / s >= LEAST_MM), default=SCALES[0]) for length in lengths]


def drawing(instrument: Instrument, scale: int, ruler: Ruler, readout: Readout, closure: Closure) -> str:
    """Draw the instruments of one depth.

    Args:
        scale: 1 to this.
    """
    return _Drawing(instrument, scale, ruler, readout, closure).svg()


class _Drawing:
    """Levels are measured from the top of the drawing downwards, in millimetres of paper."""

    def __init__(self, one: Instrument, scale: int, ruler: Ruler, readout: Readout, closure: Closure) -> None:
        self._one, self._scale, self._ruler, self._readout, self._closure = one, scale, ruler, readout, closure
        self._half = max(2.6, _TUBE_MM / scale) / 2
        pattern = one.pattern
        self._top = _TOP + _CLOSURE_MM / scale
        self._top_end = self._top + pattern.top_mm / scale
        self._branch = self._top_end + TEE_STOP_MM / scale
        self._tube = self._branch + TEE_STOP_MM / scale
        self._ground = self._tube + one.stands_mm / scale
        self._tube_end = self._tube + one.lower_mm / scale
        self._cup = self._tube_end + pattern.cup_mm / 2 / scale
        self._end = self._tube_end + pattern.cup_mm / scale

    def svg(self) -> str:
        height = self._end + _BOTTOM
        parts = [*self._soil(height), *self._guides(), *self._body(), *self._dimensions(), *self._labels()]
        depth = self._ruler.text(self._one.depth_mm)
        attributes: dict[str, object] = {
            "viewBox": f"0 0 {WIDTH_MM:g} {height:.1f}",
            "class": "drawing",
            "style": f"--paper: {WIDTH_MM:g}mm",
            "role": "img",
            "aria-label": f"Tensiometer for a depth of {depth}, lengths to scale 1:{self._scale}",
        }
        return svg.element("svg", attributes, "\n" + "\n".join(parts) + "\n")

    def _soil(self, height: float) -> Iterable[str]:
        yield svg.rect(0.0, self._ground, WIDTH_MM, height - self._ground, "soil")
        yield svg.line(0.0, self._ground, WIDTH_MM, self._ground, "ground")
        for step in range(int(WIDTH_MM / 3.0)):
            x = 1.0 + step * 3.0
            yield svg.line(x + 1.2, self._ground, x, self._ground + 1.4, "thin")

    def _body(self) -> Iterable[str]:
        left, width = _MIDDLE - self._half, 2 * self._half
        yield svg.rect(left, self._top, width, self._top_end - self._top, "tube")
        yield svg.rect(left, self._tube, width, self._tube_end - self._tube, "tube")
        yield self._cup_shape(left, left + width)
        yield from self._readout_shape()
        tee = max(5.0, _TEE_MM / self._scale)
        yield svg.rect(left - 0.7, self._branch - tee / 2, width + 1.4, tee, "tee", round_mm=0.3)
        yield self._closure_shape(left, left + width)
        yield svg.line(left - 1.6, self._ground, left + width + 1.6, self._ground, "mark")

    def _cup_shape(self, left: float, right: float) -> str:
        bend = min(self._half, self._end - self._tube_end)
        straight = self._end - bend
        arcs = f"A{self._half:.2f} {bend:.2f} 0 0 1 {left:.2f} {straight:.2f}Z"
        return svg.path(f"M{left:.2f} {self._tube_end:.2f}H{right:.2f}V{straight:.2f}{arcs}", "cup")

    def _closure_shape(self, left: float, right: float) -> str:
        low = self._top + 0.8
        if self._closure is Closure.CAP:
            return svg.rect(left - 0.6, low - 0.8 - _CLOSURE_MM / self._scale, right - left + 1.2,
                            0.8 + _CLOSURE_MM / self._scale, "closure", round_mm=0.4)  # fmt: skip
        high = self._top - _CLOSURE_MM / self._scale
        return svg.path(f"M{left - 0.5:.2f} {high:.2f}H{right + 0.5:.2f}L{right:.2f} {low:.2f}H{left:.2f}Z", "closure")

    def _readout_shape(self) -> Iterable[str]:
        start = _MIDDLE + self._half
        end = start + max(3.0, _BRANCH_MM / self._scale)
        yield svg.rect(start, self._branch - 0.9, end - start, 1.8, "tee")
        if self._readout is Readout.GAUGE:
            yield svg.element("circle", {"cx": end + 1.9, "cy": self._branch, "r": 2.2, "class": "gauge"})
            yield svg.line(end + 1.9, self._branch, end + 3.2, self._branch - 1.2)
        else:
            yield svg.rect(end, self._branch - 1.4, 3.4, 2.8, "gauge", round_mm=0.4)
            yield svg.path(f"M{end + 3.4:.2f} {self._branch:.2f}q1.6 0 1.6 -2.4", "cable")

    def _guides(self) -> Iterable[str]:
        left, right = _MIDDLE - self._half, _MIDDLE + self._half
        for y in (self._branch, self._cup):
            yield svg.line(_HEIGHT_X - 1.0, y, left - 0.8, y, "guide")
        for y in (self._top, self._top_end, self._tube, self._tube_end, self._end):
            yield svg.line(right + 0.9, y, _PIECES_X + 1.0, y, "guide")

    def _dimensions(self) -> Iterable[str]:
        one, written = self._one, self._ruler.text
        yield from _dimension(_HEIGHT_X, self._branch, self._cup, written(one.height_mm), "height ")
        yield from _dimension(_DEPTH_X, self._ground, self._cup, written(one.depth_mm), "depth ")
        yield from _dimension(_CHAIN_X, self._tube, self._ground, written(one.stands_mm))
        yield from _dimension(_CHAIN_X, self._ground, self._tube_end, written(one.ground_mark_mm), "mark ")
        for start, end in ((self._top, self._top_end), (self._tube, self._tube_end), (self._tube_end, self._end)):
            yield from _dimension(_PIECES_X, start, end)

    def _ground_label(self) -> float:
        """Above the ground where there is room between it and the tee, else below: never on the line."""
        above, room = self._ground - 1.8, self._branch + _LABEL_GAP
        return above if above >= room else max(room, self._ground + 2.6)

    def _labels(self) -> Iterable[str]:
        one, written = self._one, self._ruler.text
        labels = (
            (self._top - 2.6, self._closure.value, ""),
            ((self._top + self._top_end) / 2, "top piece", written(one.pattern.top_mm)),
            (self._branch, "tee and", self._readout.value),
            (self._ground_label(), "ground mark", ""),
            ((self._ground + self._tube_end) / 2, "lower tube", written(one.lower_mm)),
            ((self._tube_end + self._end) / 2, "cup", written(one.pattern.cup_mm)),
        )
        middles = spread([middle for middle, _, _ in labels], _LABEL_GAP, low=2.0)
        for y, (_, name, size) in zip(middles, labels, strict=True):
            yield svg.text(_LABEL_X, y + (1.0 if not size else -0.4), name)
            if size:
                yield svg.text(_LABEL_X, y + _SMALLER - 0.2, size, "size")


def spread(middles: Sequence[float], gap: float, low: float) -> list[float]:
    """Move labels apart that would lie on each other, downwards, and no further than needed.

    Args:
        middles: where they would like to be, in order.
        gap: least distance between two.
        low: the first lies here or below.

    >>> spread([1.0, 2.0, 10.0], gap=3.0, low=0.0)
    [1.0, 4.0, 10.0]
    """
    placed: list[float] = []
    for middle in middles:
        placed.append(max(middle, placed[-1] + gap if placed else low))
    return placed


def _dimension(x: float, start: float, end: float, size: str = "", name: str = "") -> Iterable[str]:
    """Draw a dimension line; its name is left out where there is no room for it."""
    yield svg.line(x, start, x, end, "size-line")
    for y in (start, end):
        yield svg.line(x - 0.7, y + 0.7, x + 0.7, y - 0.7, "tick")
    if size:
        said = name + size if len(name + size) * _LETTER <= end - start else size
        yield svg.upward(x - 0.9, (start + end) / 2, said)
