"""A chart in one line of text."""

from parchd.contract import Chart
from parchd.words import Voice

_BARS = "▁▂▃▄▅▆▇█"
WIDTH = 48


def spark(values: list[float | None], width: int = WIDTH) -> str:
    """Draw values as bars of eight heights, a dot where nothing is known.

    >>> spark([0.0, 1.0, None, 7.0, 8.0], width=5)
    '▁▂·▇█'
    """
    parts = [values[n * len(values) // width : (n + 1) * len(values) // width] for n in range(min(width, len(values)))]
    means = [_mean(part) for part in (parts if len(values) > width else [[value] for value in values])]
    known = [mean for mean in means if mean is not None]
    low, high = min(known, default=0.0), max(known, default=0.0)
    step = (high - low) / (len(_BARS) - 1) or 1.0
    return "".join("·" if mean is None else _BARS[round((mean - low) / step)] for mean in means)


def spark_line(chart: Chart, voice: Voice) -> str:
    """The main line of a chart with its lowest and highest value; empty where nothing is known.

    >>> from parchd.contract import Line
    >>> spark_line(Chart("North", "kPa", 0, 10, (Line("zone", (12.0, 30.0, 61.5)),)), Voice())
    '▁▄█ 12 to 62 kPa'
    """
    line = next((one for one in chart.lines if one.is_main), None)
    known = [value for value in line.values if value is not None] if line else []
    if line is None or not known:
        return ""
    said = voice.say("{low} to {high}", low=voice.number(min(known)), high=voice.number(max(known)))
    return f"{spark(list(line.values))} {said} {chart.unit}"


def _mean(part: list[float | None]) -> float | None:
    known = [value for value in part if value is not None]
    return sum(known) / len(known) if known else None
