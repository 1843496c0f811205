"""From a picture to lines of text: pure, measured in cells before it is painted."""

from collections.abc import Sequence
from dataclasses import dataclass

from parchd.demo.bars import bar, curve, ruler
from parchd.demo.news import Kind, News
from parchd.demo.picture import Gauge, Picture, Sign, ZonePicture
from parchd.demo.style import Style

LEAST_COLUMNS, LEAST_LINES = 80, 24
_NAME, _DEPTH, _TENSION = 11, 7, 10
_ALERT = (Sign.NOW, Sign.FAULT, Sign.SILENT)


@dataclass(frozen=True, slots=True)
class Widths:
    """Columns of the bars and of the curves; the others are fixed."""

    bar: int
    curve: int

    @classmethod
    def of(cls, columns: int) -> "Widths":
        """Share the room: of each three columns more than 80, two go to the bars and one to the curves.

        >>> Widths.of(80), Widths.of(120)
        (Widths(bar=19, curve=12), Widths(bar=45, curve=26))
        """
        more = max(0, columns - LEAST_COLUMNS)
        return cls(min(60, 19 + more * 2 // 3), min(40, 12 + more - more * 2 // 3))


def draw(picture: Picture, columns: int, lines: int, style: Style) -> list[str]:
    """Draw the whole screen: at most ``lines`` lines of at most ``columns`` cells."""
    if columns < LEAST_COLUMNS or lines < LEAST_LINES:
        return _small(picture, columns, lines, style)
    airy = lines >= LEAST_LINES + 6
    top = [_header(picture, columns, style), *[""] * airy, *zone_lines(picture, columns, style, airy=airy)]
    bottom = [_legend(columns, style)]
    room = lines - len(top) - len(bottom) - 1
    news = [news_line(one, columns, style) for one in picture.news[-room:]]
    return [*top, _titled_rule("what happened", columns, style), *news, *[""] * (room - len(news)), *bottom]


def zone_lines(picture: Picture, columns: int, style: Style, *, airy: bool = False) -> list[str]:
    """Draw the table of all zones and tensiometers with its heading."""
    widths = Widths.of(columns)
    found = [_heading(picture, widths, style)]
    for number, zone in enumerate(picture.zones):
        found += [""] if airy and number else []
        found.append(_zone_line(zone, picture.scale_kpa, columns, widths, style))
        found += [_gauge_line(gauge, zone, picture.scale_kpa, columns, style) for gauge in zone.gauges]
    return found


def plain_line(news: News) -> str:
    """Write one line of what happened, as long as it is.

    >>> plain_line(News("05:14", Kind.MAIL, "Nursery: irrigate now (26 kPa)", "to grower"))
    '05:14  mail     Nursery: irrigate now (26 kPa)  (to grower)'
    """
    aside = f"  ({news.aside})" if news.aside else ""
    return f"{news.at}  {news.kind:<7}  {news.text}{aside}"


def news_line(news: News, columns: int, style: Style) -> str:
    """Write one line of what happened; the aside goes to the right end where there is room for it.

    >>> news_line(News("05:14", Kind.MAIL, "Nursery: irrigate now (26 kPa)", "to grower"), 60, Style())
    '05:14  mail     Nursery: irrigate now (26 kPa)     to grower'
    """
    if news.kind is Kind.INTRO:
        return cut(news.text, columns, style)
    head, text = f"{news.at}  {news.kind:<7}", f"  {news.text}"
    room = columns - len(head) - len(text) - 2
    aside = next((aside for aside in (news.aside, news.aside.partition("@")[0]) if len(aside) <= room), "")
    gap = " " * (columns - len(head) - len(text) - len(aside)) if aside else ""
    shown = style.strong(head) if news.kind is Kind.MAIL else head
    return shown + cut(text, columns - len(head), style) + gap + style.faint(aside)


def cut(text: str, columns: int, style: Style) -> str:
    """Shorten a text that is too long.

    >>> cut("irrigate now", 8, Style()), cut("plan", 8, Style())
    ('irrigat~', 'plan')
    """
    return text if len(text) <= columns else text[: columns - 1] + style.letters.cut


def _header(picture: Picture, columns: int, style: Style) -> str:
    left = f"{picture.site}   {picture.time}"
    right = f"{picture.speed:g} times faster than life"
    return style.strong(left) + " " * max(1, columns - len(left) - len(right)) + right


def _heading(picture: Picture, widths: Widths, style: Style) -> str:
    begin, end = "0 wet", f"dry {picture.scale_kpa:.0f} kPa"
    return style.faint(
        f"{'tensiometer':<{_NAME}}{'depth':>{_DEPTH}}{'tension':>{_TENSION}}"
        f"  {begin}{end:>{widths.bar - len(begin)}}  {'last hour':<{widths.curve}}  state"
    )


def _zone_line(zone: ZonePicture, scale_kpa: float, columns: int, widths: Widths, style: Style) -> str:
    left = _NAME + _DEPTH + _TENSION + 2
    title = cut(zone.title, left - 1, style)
    marks = ruler((zone.plan_kpa, zone.now_kpa), scale_kpa, widths.bar)
    tension = "" if zone.tension_kpa is None else f" {zone.tension_kpa:z.0f} kPa"
    need = cut(f"{style.letters.signs[zone.sign]} {zone.words}{tension}", columns - left - widths.bar - 2, style)
    shown = style.reversed(need) if zone.sign in _ALERT else style.strong(need)
    return f"{style.strong(title)}{' ' * (left - len(title))}{marks}  {shown}"


def _gauge_line(gauge: Gauge, zone: ZonePicture, scale_kpa: float, columns: int, style: Style) -> str:
    widths = Widths.of(columns)
    tension = "no value" if gauge.tension_kpa is None else f"{gauge.tension_kpa:z.1f} kPa"
    room = columns - _NAME - _DEPTH - _TENSION - widths.bar - widths.curve - 6
    state = cut(f"{style.letters.signs[gauge.sign]} {gauge.words}", room, style)
    return (
        f"{cut('  ' + gauge.name, _NAME, style):<{_NAME}}{f'{gauge.depth_cm:.0f} cm':>{_DEPTH}}{tension:>{_TENSION}}"
        f"  {bar(gauge.tension_kpa, scale_kpa, (zone.plan_kpa, zone.now_kpa), widths.bar, style)}"
        f"  {curve(gauge.history, widths.curve, style)}"
        f"  {style.strong(state) if gauge.sign in _ALERT else state}"
    )


def _legend(columns: int, style: Style) -> str:
    letters = style.letters
    signs = " ".join(f"{letters.signs[sign]} {word}" for sign, word in _ZONE_WORDS)
    left = f"limits: {letters.plan} plan  {letters.now} irrigate now    zones: {signs}"
    right = "Ctrl-C ends"
    return style.faint(left) + " " * max(1, columns - len(left) - len(right)) + style.strong(right)


_ZONE_WORDS = ((Sign.ENOUGH, "enough"), (Sign.PLAN, "plan"), (Sign.NOW, "now"))


def _titled_rule(title: str, columns: int, style: Style) -> str:
    return style.faint(f"{style.letters.rule * 2} {title} ".ljust(columns, style.letters.rule))


def _small(picture: Picture, columns: int, lines: int, style: Style) -> list[str]:
    """What fits into a window that is too small for bars: a line for each zone, then the news."""
    zones = [f"{style.letters.signs[zone.sign]} {zone.title}: {zone.words}" for zone in picture.zones]
    found = [f"{picture.site} {picture.time}", *zones, f"bars need {LEAST_COLUMNS} x {LEAST_LINES}; Ctrl-C ends"]
    room = max(0, lines - len(found))
    news: Sequence[News] = picture.news[-room:] if room else ()
    found += [f"{one.at} {one.text}".strip() for one in news]
    return [cut(line, columns, style) for line in found[:lines]]
