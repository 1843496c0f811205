"""Words, shapes and colours for what a message is about, and safe text."""

import re
import unicodedata
from dataclasses import dataclass

from parchd.contract import AnswerLink, Notice, NoticeKind, Priority
from parchd.words import Voice, text

_BIDI_CONTROLS = frozenset("\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
_ADDRESS = re.compile(r"https?://[A-Za-z0-9._~:/?#\[\]@!$&()*+,;=%-]+")
_UNSAFE = frozenset({"Cc", "Cs", "Zl", "Zp"})


def one_line(text: str, longest: int | None = None) -> str:
    """Make text safe for a header or a line: no control characters, line ends, lone surrogates or reversed runs.

    >>> one_line("pump\\r\\nBcc: all@quillmere.example")
    'pump Bcc: all@quillmere.example'
    >>> one_line("a long name", longest=7)
    'a lo...'
    """
    safe = "".join(" " if _is_unsafe(char) else char for char in text)
    line = " ".join(safe.split())
    return line if longest is None or len(line) <= longest else line[: longest - 3] + "..."


def _is_unsafe(char: str) -> bool:
    return char in _BIDI_CONTROLS or unicodedata.category(char) in _UNSAFE


@dataclass(frozen=True, slots=True)
class Badge:
    """How a kind of message looks at first sight: the shape and the word say it without the colour.

    Colours grow darker with the priority of an alarm, so that they keep their order in any kind of colour vision;
    all that asks for no response is grey. Text and ground are set together: no dark mode can part them.
    """

    shape: str
    word: str
    ground: str
    ink: str


_GREY = ("#5c6370", "#ffffff")
_LOOKS = {
    Priority.LOW: ("\u25cf", "#ead9a0", "#1c1a14"),
    Priority.MEDIUM: ("\u25c6", "#b4561f", "#ffffff"),
    Priority.HIGH: ("\u25b2", "#4f1547", "#ffffff"),
}
_ASKING = {
    NoticeKind.RAISED: {
        Priority.LOW: text("Raised, low priority"),
        Priority.MEDIUM: text("Raised, medium priority"),
        Priority.HIGH: text("Raised, high priority"),
    },
    NoticeKind.REPEATED: {
        Priority.LOW: text("Still so, low priority"),
        Priority.MEDIUM: text("Still so, medium priority"),
        Priority.HIGH: text("Still so, high priority"),
    },
    NoticeKind.REMINDER: {
        Priority.LOW: text("Waits for an answer, low priority"),
        Priority.MEDIUM: text("Waits for an answer, medium priority"),
        Priority.HIGH: text("Waits for an answer, high priority"),
    },
    NoticeKind.ESCALATED: {
        Priority.LOW: text("Nobody answered, low priority"),
        Priority.MEDIUM: text("Nobody answered, medium priority"),
        Priority.HIGH: text("Nobody answered, high priority"),
    },
    NoticeKind.GROUP: {
        Priority.LOW: text("Several alarms, low priority"),
        Priority.MEDIUM: text("Several alarms, medium priority"),
        Priority.HIGH: text("Several alarms, high priority"),
    },
    NoticeKind.FLOOD: {
        Priority.LOW: text("Flood of alarms, low priority"),
        Priority.MEDIUM: text("Flood of alarms, medium priority"),
        Priority.HIGH: text("Flood of alarms, high priority"),
    },
}
"""Messages that ask for a response: shape and colour tell how urgent they are, the word also why they come."""
_OTHERS = {
    NoticeKind.CLEARED: ("\u25cb", text("Cleared")),
    NoticeKind.DIGEST: ("\u25a0", text("Digest")),
    NoticeKind.OVERFLOW: ("\u25bc", text("Several messages in one")),
    NoticeKind.STEP: ("\u25ab", text("Step in the life of an alarm")),
    NoticeKind.TEST: ("\u25c7", text("Test message")),
}


def badge(kind: NoticeKind, priority: Priority, voice: Voice | None = None) -> Badge:
    """
    >>> badge(NoticeKind.RAISED, Priority.HIGH).word
    'Raised, high priority'
    """
    voice = voice or Voice()
    if kind in _ASKING:
        shape, ground, ink = _LOOKS[priority]
        return Badge(shape, voice.say(_ASKING[kind][priority]), ground, ink)
    shape, word = _OTHERS[kind]
    return Badge(shape, voice.say(word), *_GREY)


def title(notice: Notice) -> str:
    """The subject as a safe line that is never empty."""
    return one_line(notice.subject, 200) or badge(notice.kind, notice.priority, notice.voice).word


def origin(notice: Notice) -> tuple[str, str]:
    """Two lines about where a message comes from."""
    say, zone = notice.voice.say, notice.voice.time_zone
    return (
        say("Sent by parchd for {site}.", site=one_line(notice.site, 60)),
        say(
            "Time: {time} ({zone}). Message: {id}",
            time=notice.voice.local(notice.time_us),
            zone=zone,
            id=one_line(notice.id, 100),
        ),
    )


def answers(notice: Notice) -> tuple[AnswerLink, ...]:
    """What may be answered by following a link; an address that a browser should not open is left out.

    >>> from dataclasses import replace
    >>> notice = Notice("n1", NoticeKind.TEST, 0, "Quillmere", "Test", "")
    >>> links = (AnswerLink("Yes", "https://quillmere.example/a", "acknowledge"), AnswerLink("No", "javascript:1", "x"))
    >>> [link.label for link in answers(replace(notice, answers=links))]
    ['Yes']
    """
    return tuple(link for link in notice.answers if _ADDRESS.fullmatch(link.url))


def steps_heading(notice: Notice) -> str:
    """What stands above the advice: the lines have said already what comes first."""
    return notice.voice.say("Step by step" if notice.lines else "What to do")
