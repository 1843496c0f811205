"""What happened, as small marks below the field: wettings, services, saturation, free water."""

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from parchd.diagnosis.kinds import EventKind
from parchd.diagnosis.words import EVENT_WORDS
from parchd.workbench import svg
from parchd.workbench.explain_case import Explained
from parchd.workbench.explain_frame import Frame

ROW = 14.0
_CROWDED = 7.0
_SPANS = (EventKind.SATURATION, EventKind.POSITIVE_PRESSURE)

Shape = Callable[[float, float], str]


def _drop(x: float, y: float) -> str:
    return svg.path(
        f"M{x:.1f} {y - 5:.1f}c1.2 3 3.4 4.2 3.4 6.6a3.4 3.4 0 0 1 -6.8 0c0 -2.4 2.2 -3.6 3.4 -6.6Z", "solid"
    )


def _tick(x: float, y: float) -> str:
    return svg.line(x, y - 5.0, x, y + 5.0, "thin-mark")


def _square(x: float, y: float) -> str:
    return svg.rect(x - 4.0, y - 4.0, 8.0, 8.0, "open-mark")


def _saturation(x: float, y: float) -> str:
    return svg.rect(x - 6.0, y - 3.0, 12.0, 6.0, "wet")


def _free_water(x: float, y: float) -> str:
    return svg.rect(x - 6.0, y - 3.0, 12.0, 6.0, "wetter")


SHAPES: Mapping[EventKind, Shape] = MappingProxyType(
    {
        EventKind.WETTING: _drop,
        EventKind.SERVICE: _square,
        EventKind.SATURATION: _saturation,
        EventKind.POSITIVE_PRESSURE: _free_water,
    }
)


def marks_height(case: Explained) -> float:
    """Room that marks need below the field."""
    kinds = event_kinds(case)
    return ROW * (any(kind not in _SPANS for kind in kinds) + any(kind in _SPANS for kind in kinds))


def event_kinds(case: Explained) -> list[EventKind]:
    """Kinds that are drawn."""
    seen = {event.kind for event in case.events} | ({EventKind.SERVICE} if case.services else set())
    return [kind for kind in EventKind if kind in seen]


def key_of(kind: EventKind, case: Explained, frame: Frame) -> tuple[Shape, str]:
    """The sign that stands for a kind, and its word."""
    shape = _tick if kind is EventKind.WETTING and is_crowded(case, frame) else SHAPES[kind]
    return shape, EVENT_WORDS[kind].title


def is_crowded(case: Explained, frame: Frame) -> bool:
    """Whether wettings lie too close for drops."""
    wettings = sum(event.kind is EventKind.WETTING for event in case.events)
    return wettings * _CROWDED > frame.right - frame.left


def marks_parts(case: Explained, frame: Frame) -> Iterator[str]:
    """Draw all marks; services also as a line through the field."""
    y, spans_y = frame.bottom + ROW / 2 + 1.0, frame.bottom + marks_height(case) - ROW / 2 + 1.0
    for event in case.events:
        if event.kind in _SPANS:
            left = frame.x(event.start_us)
            right = max(frame.x(frame.end_us if event.end_us is None else event.end_us), left + 2.0)
            yield svg.rect(left, spans_y - 3.0, right - left, 6.0, _kind(event.kind))
    draw_drop = _tick if is_crowded(case, frame) else _drop
    for event in case.events:
        if event.kind is EventKind.WETTING:
            yield draw_drop(frame.x(max(event.start_us, frame.start_us)), y)
    for time_us in service_times(case):
        x = frame.x(time_us)
        yield svg.line(x, frame.top, x, frame.bottom + 3.0, "service")
        yield _square(x, y)


def service_times(case: Explained) -> list[int]:
    """When somebody worked there: written down or seen, once each."""
    written = [service.begin_us for service in case.services if service.begin_us >= case.start_us]
    seen = [
        event.start_us
        for event in case.events
        if event.kind is EventKind.SERVICE
        and not any(s.begin_us - 6 * 3_600_000_000 <= event.start_us <= s.end_us for s in case.services)
    ]
    return sorted([*written, *seen])


def _kind(kind: EventKind) -> str:
    return "wet" if kind is EventKind.SATURATION else "wetter"
