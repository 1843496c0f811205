"""What a report says: blocks of sentences and tables, the same for terminal and page."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import Enum, auto

from parchd.alarms.refusals import named
from parchd.report import guide
from parchd.report.counting import quantile
from parchd.report.episodes import Episode
from parchd.report.figures import Figures, Rate

MOST_ROWS = 15


class Picture(Enum):
    """What is drawn above a block."""

    DAYS = auto()
    SPLIT = auto()
    RECIPIENTS = auto()
    FREQUENT = auto()
    ANSWERS = auto()


@dataclass(frozen=True, slots=True)
class Block:
    """One part of a report.

    Args:
        sentences: what is to be said.
        head, rows: a table; ``sides`` has ``>`` for a column of numbers.
        picture: what is drawn.
        after: said below, in small letters.
    """

    title: str
    sentences: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    sides: str = ""
    picture: Picture | None = None
    after: tuple[str, ...] = ()


Local = Callable[[int], str]


def blocks(found: Figures, local: Local) -> list[Block]:
    """Say everything; ``local`` writes a time as people of the site read it."""
    return [
        _alarms(found), _split(found), _recipients(found), _frequent(found), _stale(found, local), _nuisance(found),
        _answers(found), _floods(found, local), _guides(),
    ]  # fmt: skip


def title(site: str) -> str:
    """
    >>> title("Quillmere Orchard")
    'Alarms of Quillmere Orchard'
    """
    return f"Alarms of {site}"


def span_words(found: Figures) -> Iterator[str]:
    """Which span, and whether that is enough to judge by."""
    first, last = found.span.days[0], found.span.days[-1]
    days, zone = found.span.length_days, found.span.zone.key
    yield f"{first:%d %B %Y} to {last:%d %B %Y}, {days:.1f} days. Days are local ({zone})."
    if found.history_days < guide.LEAST_DAYS - 0.05:
        yield (
            f"The history of alarms knows {found.history_days:.1f} days of it; such figures want {guide.LEAST_DAYS} or"
            " more."
        )


def duration(seconds: float) -> str:
    """
    >>> [duration(s) for s in (40, 600, 5400, 86_400 * 3.5)]
    ['40 s', '10 min', '1.5 h', '3.5 days']
    """
    if seconds < 60:
        return f"{seconds:.0f} s"
    if seconds < 3600:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h" if seconds < 48 * 3600 else f"{seconds / 86_400:.1f} days"


def share(part: float, whole: float) -> str:
    """
    >>> share(1, 3), share(0, 0)
    ('33 %', '-')
    """
    return f"{100 * part / whole:.0f} %" if whole else "-"


def _a_day(rate: Rate) -> str:
    return f"{rate.a_day:.1f} a day, {rate.worst} on the worst day"


def _alarms(found: Figures) -> Block:
    said = [f"{_count(found.alarms.total, 'alarm')} that asked for a response: {_a_day(found.alarms)}."]
    if found.repeated:
        said.append(f"{_count(found.repeated, 'reminder')} of alarms that stood on, not counted among them.")
    if found.hidden:
        said.append(f"{_count(found.hidden, 'condition')} nobody was told of: shelved, suppressed, out of service.")
    return Block("Alarms a day", tuple(said), picture=Picture.DAYS if found.alarms.total else None)


def _split(found: Figures) -> Block:
    whole = found.alarms.total
    rows = tuple(
        (one.word, f"{found.by_priority[one].total}", share(found.by_priority[one].total, whole), share(part, 1.0))
        for one, part in guide.SPLIT.items()
    )
    head = ("Priority", "Alarms", "Share", "Guide")
    return Block("Priorities", (), head, rows, "<>>>", Picture.SPLIT if whole else None)


def _recipients(found: Figures) -> Block:
    if not found.recipients:
        return Block("Messages by recipient", ("Nobody was sent a message about an alarm.",))
    rows = tuple(
        (name, f"{rate.total}", f"{rate.a_day:.1f}", f"{rate.worst}", f"{rate.days_above(guide.MESSAGES_A_DAY)}")
        for name, rate in found.recipients.items()
    )
    head = ("Recipient", "Messages", "A day", "Worst day", f"Days above {guide.MESSAGES_A_DAY}")
    aim = (
        f"We aim at {guide.MESSAGES_A_DAY} a day at most for whoever has a farm to run. Digests and tests do not count."
    )
    return Block("Messages by recipient", (), head, rows, "<>>>>", Picture.RECIPIENTS, (aim,))


def _frequent(found: Figures) -> Block:
    whole = found.alarms.total
    rows = tuple((named(key), f"{count}", share(count, whole)) for key, count in found.frequent)
    if not rows:
        return Block("Most frequent", ("None.",))
    return Block("Most frequent", (), ("Alarm", "Times", "Share"), rows, "<>>", Picture.FREQUENT)


def _stale(found: Figures, local: Local) -> Block:
    said = [f"{_count(len(found.stale), 'fault')} stood for more than {guide.STALE_H:g} hours."]
    if found.thirsty:
        said.append(
            f"{_count(len(found.thirsty), 'need')} for water stood so long too: soil is slow, they are not counted."
        )
    rows = tuple(_stood(one, found, local) for one in found.stale[:MOST_ROWS])
    more = len(found.stale) - len(rows)
    return Block(
        "Stale", tuple(said), ("Alarm", "Since", "Now", "Stood"), rows, "<<<>",
        after=(f"{more} more are not listed.",) if more else (),
    )  # fmt: skip


def _stood(one: Episode, found: Figures, local: Local) -> tuple[str, str, str, str]:
    now = "still on" if one.off_us is None else "over"
    return named(one.key), local(one.on_us), now, duration(one.seconds(found.span.end_us))


def _nuisance(found: Figures) -> Block:
    told = (
        ("chattering", f"{guide.CHATTER_COUNT} times or more within a minute", found.chattering),
        ("repeating", f"more than {guide.REPEATING_COUNT} times within {guide.REPEATING_H:g} hours", found.repeating),
        ("fleeting", f"gone by itself within {guide.FLEETING_MIN:g} minutes", found.fleeting),
    )
    said = tuple(f"{word.capitalize()} ({meaning}): {len(keys) or 'none'}." for word, meaning, keys in told)
    rows = tuple((named(key), word, f"{count}") for word, _, keys in told for key, count in keys[:MOST_ROWS])
    note = "Repeating and fleeting are measures of our own."
    return Block("Chattering, repeating, fleeting", said, ("Alarm", "What", "Times"), rows, "<<>", after=(note,))


def _answers(found: Figures) -> Block:
    seconds = found.answers.seconds
    half, most = quantile(seconds, 0.5), quantile(seconds, 0.9)
    said = [f"{_count(len(seconds), 'alarm')} {'was' if len(seconds) == 1 else 'were'} answered by somebody."]
    if half is not None and most is not None:
        said.append(f"Half of them within {duration(half)}, 90 % within {duration(most)}.")
    wait = "waits" if found.answers.waiting == 1 else "wait"
    said.append(f"{found.answers.never or 'None'} went unanswered, {found.answers.waiting or 'none'} still {wait}.")
    return Block("Time to answer", tuple(said), picture=Picture.ANSWERS if seconds else None)


def _floods(found: Figures, local: Local) -> Block:
    count = _count(len(found.floods), "flood")
    said = (f"{count} of more than {guide.FLOOD_BEGINS} alarms in 10 minutes. Busiest 10 minutes: {found.busiest}.",)
    rows = tuple(
        (local(flood.start_us), duration((flood.end_us - flood.start_us) / 1e6), f"{flood.alarms}")
        for flood in found.floods
    )
    return Block("Floods", said, ("Began", "Lasted", "Alarms"), rows, "<>>")


def _guides() -> Block:
    rows = tuple((one.what, one.value, one.source) for one in guide.GUIDES)
    return Block("What is published", (guide.REMARK,), ("Of what", "Value", "Source"), rows, "<<<")


def _count(number: int, what: str) -> str:
    return f"{number or 'No'} {what}{'' if number == 1 else 's'}"
