"""The pictures of a report, in SVG and pixels: once for screens and paper, once for phones."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from html import escape

from parchd.alarms.refusals import named
from parchd.contract import Priority
from parchd.report import guide
from parchd.report.counting import quantile
from parchd.report.figures import Figures, Rate
from parchd.report.words import Picture, share
from parchd.workbench import svg

WIDE, SLIM = 820.0, 350.0
_LETTER = 7.0
_LEFT, _RIGHT = 34.0, 8.0
_GAP_PX = 0.18
_TICKS = (
    (60.0, "1 min"), (600.0, "10 min"), (3600.0, "1 h"), (6 * 3600.0, "6 h"), (86_400.0, "1 day"),
    (3 * 86_400.0, "3 days"), (10 * 86_400.0, "10 days"), (30 * 86_400.0, "30 days"),
)  # fmt: skip
_LEAST_S = 30.0

STYLE = """
.alarms { display: block; width: 100%; height: auto; }
.alarms text { font: 12px system-ui, "DejaVu Sans", sans-serif; fill: #111; }
.alarms .n { text-anchor: end; }
.alarms .mid { text-anchor: middle; }
.alarms .soft { fill: #555; }
.alarms .high, .alarms .bar { fill: #111; stroke: #111; stroke-width: 1; }
.alarms .medium { fill: #888; stroke: #111; stroke-width: 1; }
.alarms .low { fill: #fff; stroke: #111; stroke-width: 1; }
.alarms .grid { stroke: #ccc; stroke-width: 1; }
.alarms .axis { stroke: #111; stroke-width: 1; }
.alarms .aim { stroke: #111; stroke-width: 1.5; stroke-dasharray: 6 4; }
.alarms .half { stroke: #111; stroke-width: 3; }
.alarms .one { stroke: #111; stroke-width: 1; opacity: .45; }
.slim { display: none; }
@media (max-width: 38rem) { .wide { display: none; } .slim { display: block; } }
@media print { .wide { display: block; } .slim { display: none; } }
"""


def picture_svg(picture: Picture, found: Figures, width: float) -> str:
    """Draw one picture, so wide."""
    return _DRAWN[picture](found, width)


def _days(found: Figures, width: float) -> str:
    """Alarms of each day, the most urgent below, with a sign over floods."""
    top, high = 26.0, 150.0
    most = max(found.alarms.worst, guide.MESSAGES_A_DAY)
    parts = [*_legend(8.0), *_counts(most, top, high, width)]
    for n, (x, wide) in enumerate(_columns(len(found.alarms.by_day), _LEFT, width - _RIGHT)):
        y = top + high
        for priority, rate in found.by_priority.items():
            if count := rate.by_day[n]:
                y -= high * count / most
                parts.append(svg.rect(x, y, wide, high * count / most, priority.word))
    parts += _dates(found, top + high, width)
    return _drawn(f"alarms of each day: {found.alarms.total} in all", width, top + high + 22.0, parts)


def _split(found: Figures, width: float) -> str:
    """The shares of the priorities, and those of the guide."""
    whole = found.alarms.total
    seen = {one: rate.total / whole if whole else 0.0 for one, rate in found.by_priority.items()}
    parts = list(_legend(8.0))
    for n, (name, shares) in enumerate((("here", seen), ("guide", guide.SPLIT))):
        y = 26.0 + 34.0 * n
        parts.append(svg.text(_LEFT + 6.0, y + 16.0, name, "n"))
        parts += _stacked(shares, _LEFT + 14.0, y, width - _LEFT - 14.0 - _RIGHT)
    said = ", ".join(f"{one.word} {share(seen[one], 1.0)}" for one in seen)
    return _drawn(f"share of each priority: {said}", width, 98.0, parts)


def _stacked(shares: Mapping[Priority, float], x: float, y: float, width: float) -> Iterator[str]:
    for one in reversed(Priority):
        if part := shares[one] * width:
            yield svg.rect(x, y, part, 24.0, one.word)
            x += part


def _recipients(found: Figures, width: float) -> str:
    """A row for each recipient, with a line at what we aim at."""
    high, line = 46.0, 74.0
    most = max([guide.MESSAGES_A_DAY, *(rate.worst for rate in found.recipients.values())])
    parts: list[str] = []
    for n, (name, rate) in enumerate(found.recipients.items()):
        top = 20.0 + line * n
        room = int((width - _LEFT) / _LETTER)
        parts.append(svg.text(_LEFT, top - 6.0, name if len(name) <= room else f"{name[: room - 1]}…"))
        parts += _bars(rate, most, top, high, width)
        y = top + high * (1 - guide.MESSAGES_A_DAY / most)
        parts.append(svg.line(_LEFT, y, width - _RIGHT, y, "aim"))
        parts.append(svg.text(_LEFT - 6.0, y + 4.0, f"{guide.MESSAGES_A_DAY}", "n"))
    bottom = 20.0 + line * (len(found.recipients) - 1) + high
    parts += _dates(found, bottom, width)
    return _drawn("messages to each recipient, day by day", width, bottom + 22.0, parts)


def _bars(rate: Rate, most: int, top: float, high: float, width: float) -> Iterator[str]:
    yield svg.line(_LEFT, top + high, width - _RIGHT, top + high, "axis")
    for count, (x, wide) in zip(rate.by_day, _columns(len(rate.by_day), _LEFT, width - _RIGHT), strict=True):
        if count:
            tall = high * count / most
            yield svg.rect(x, top + high - tall, wide, tall, "bar")


def _frequent(found: Figures, width: float) -> str:
    """A bar for each of the alarms that came most often, under its name."""
    line, most = 34.0, max(count for _, count in found.frequent)
    room = int((width - _RIGHT) / _LETTER)
    parts: list[str] = []
    for n, (key, count) in enumerate(found.frequent):
        y = 14.0 + line * n
        parts.append(svg.text(0.0, y, named(key)[:room]))
        wide = max(1.0, (width - 40.0) * count / most)
        parts.append(svg.rect(0.5, y + 4.0, wide, 10.0, "bar"))
        parts.append(svg.text(wide + 6.0, y + 14.0, f"{count}"))
    return _drawn("the alarms that came most often", width, line * len(found.frequent) + 2.0, parts)


def _answers(found: Figures, width: float) -> str:
    """A stroke for each answer along a scale on which each step is a multiple, with half and 90 % of them."""
    seconds, top, high = found.answers.seconds, 24.0, 44.0
    last = next((tick for tick, _ in _TICKS if tick >= seconds[-1]), seconds[-1])
    low, span = math.log(_LEAST_S), math.log(last) - math.log(_LEAST_S)

    def x(value: float) -> float:
        place = (math.log(max(value, _LEAST_S)) - low) / span
        return _LEFT + min(1.0, max(0.0, place)) * (width - 2 * _LEFT)

    parts: list[str] = [svg.line(_LEFT, top + high, width - _LEFT, top + high, "axis")]
    free = 0.0
    for tick, said in ((tick, said) for tick, said in _TICKS if tick <= last):
        parts.append(svg.line(x(tick), top, x(tick), top + high, "grid"))
        if x(tick) - len(said) * _LETTER / 2 > free:
            parts.append(svg.text(x(tick), top + high + 16.0, said, "mid"))
            free = x(tick) + len(said) * _LETTER / 2 + 6.0
    parts += [svg.line(x(value), top + 12.0, x(value), top + high, "one") for value in seconds]
    half, most = quantile(seconds, 0.5), quantile(seconds, 0.9)
    assert half is not None
    assert most is not None
    parts += [svg.line(x(value), top, x(value), top + high, "half") for value in (half, most)]
    apart = x(most) - x(half) > 6 * _LETTER
    parts.append(svg.text(x(half), top - 6.0, "half" if apart else "half and 90 %", "mid"))
    parts += [svg.text(x(most), top - 6.0, "90 %", "mid")] if apart else []
    return _drawn(f"time from an alarm to its answer, {len(seconds)} answers", width, top + high + 22.0, parts)


_DRAWN: Mapping[Picture, Callable[[Figures, float], str]] = {
    Picture.DAYS: _days,
    Picture.SPLIT: _split,
    Picture.RECIPIENTS: _recipients,
    Picture.FREQUENT: _frequent,
    Picture.ANSWERS: _answers,
}


def _columns(count: int, left: float, right: float) -> Iterator[tuple[float, float]]:
    """Left edge and width of each column."""
    each = (right - left) / max(1, count)
    gap = min(3.0, each * _GAP_PX)
    for n in range(count):
        yield left + n * each + gap / 2, each - gap


def _legend(y: float) -> Iterator[str]:
    x = _LEFT
    for one in reversed(Priority):
        yield svg.rect(x, y - 6.0, 10.0, 10.0, one.word)
        yield svg.text(x + 15.0, y + 3.0, one.word)
        x += 15.0 + _LETTER * len(one.word) + 18.0


def _counts(most: int, top: float, high: float, width: float) -> Iterator[str]:
    step = max(1, 10 ** (len(str(most)) - 1))
    step = step // 2 if step > 1 and most // step < 3 else step
    for count in range(0, most + 1, step if most // step <= 6 else 2 * step):
        y = top + high * (1 - count / most)
        yield svg.line(_LEFT, y, width - _RIGHT, y, "grid" if count else "axis")
        yield svg.text(_LEFT - 6.0, y + 4.0, f"{count}", "n")


def _dates(found: Figures, y: float, width: float) -> Iterator[str]:
    """Days below an axis, as many as have room."""
    days = found.span.days
    places: Sequence[tuple[float, float]] = list(_columns(len(days), _LEFT, width - _RIGHT))
    every = math.ceil(len(days) / max(1, (width - _LEFT - _RIGHT) // 58.0))
    for n in range(0, len(days), every):
        x = places[n][0] + places[n][1] / 2
        if x < width - 24.0:
            yield svg.text(max(x, 22.0), y + 16.0, f"{days[n]:%d %b}".lstrip("0"), "mid")


def _drawn(title: str, width: float, height: float, parts: Sequence[str]) -> str:
    head = f'<svg class="alarms" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(title)}"'
    return f'{head} style="max-width: {width:g}px">' + "\n".join(parts) + "</svg>"
