"""The pages behind links: the question with its form, and what became of it."""

from collections.abc import Iterable
from html import escape

from starlette.responses import HTMLResponse

from parchd.alarms.links import USUAL_WORK, Link, LinkAct, LinkVerdict
from parchd.app.link_case import Case
from parchd.clock import US_PER_S
from parchd.contract import Verdict
from parchd.web import link_words as words
from parchd.web.page import p, page, sheet
from parchd.web.site import Known, Reader
from parchd.words import Voice

STATUS = {
    LinkVerdict.USED: 410,
    LinkVerdict.ENDED: 410,
    LinkVerdict.NEEDLESS: 410,
    LinkVerdict.EXPIRED: 410,
    LinkVerdict.FORGED: 404,
    Verdict.REFUSED: 409,
    Verdict.BUSY: 503,
}
HOUR_US = 3600 * US_PER_S
LONGEST_REASON = 200


def question(known: Known, reader: Reader, case: Case, alarm: str, state: str) -> HTMLResponse:
    """Ask whether it is meant; nothing happens before the button is pressed.

    Args:
        alarm, state: what the alarm is about, and how it stands, in the reader's words.
    """
    voice, link = reader.voice, case.link
    said = words.ACTS[link.act]
    body = "".join(
        (
            sheet(
                p(alarm, "alarm"),
                p(voice.say(words.SINCE, time=voice.local(link.raised_us))),
                p(voice.say(words.NOW, state=state)),
            ),
            p(voice.say(said.meaning)),
            '<form method="post">\n',
            _FIELDS[link.act](voice, link),
            f'<button type="submit">{escape(voice.say(said.button))}</button>\n</form>\n',
            p(voice.say(words.WORKS_ONCE, name=reader.name, time=voice.local(link.expires_us)), "small"),
        )
    )
    return page(voice.language, known.names.site, voice.say(said.title, tensiometer=link.key.name), body)


def done(known: Known, reader: Reader, link: Link, alarm: str, until_us: int | None) -> HTMLResponse:
    """Say that it was done."""
    voice, said = reader.voice, words.ACTS[link.act]
    until = "" if until_us is None else voice.local(until_us)
    after = voice.say(said.after, name=reader.name, until=until, tensiometer=link.key.name)
    return page(voice.language, known.names.site, voice.say(said.done), sheet(p(alarm, "alarm"), p(after)))


def ended(
    known: Known, reader: Reader, verdict: Verdict | LinkVerdict, *, time_us: int = 0, alarm: str = "", state: str = ""
) -> HTMLResponse:
    """Say kindly why there is nothing to press.

    Args:
        time_us: when the link was used, or ended.
        alarm, state: what it is about and how it stands, where that is known.
    """
    voice, said = reader.voice, words.ENDS[verdict]
    now = p(voice.say(words.NOW, state=state)) if state else ""
    body = sheet(p(alarm, "alarm"), p(voice.say(said.text, time=voice.local(time_us))), now)
    return page(voice.language, known.names.site, voice.say(said.title), body, STATUS[verdict])


def too_many(known: Known, reader: Reader) -> HTMLResponse:
    """Ask for patience."""
    said, voice = words.TOO_MANY, reader.voice
    return page(voice.language, known.names.site, voice.say(said.title), sheet(p(voice.say(said.text))), 429)


def nothing_here(known: Known, status: int) -> HTMLResponse:
    """Say that an address leads nowhere, or that it cannot be read now."""
    voice = Voice(time_zone=known.names.time_zone)
    said = words.UNREADABLE if status >= 500 else words.NOTHING_HERE
    return page(voice.language, known.names.site, voice.say(said.title), sheet(p(voice.say(said.text))), status)


def _nothing(_voice: Voice, _link: Link) -> str:
    return ""


def _shelf(voice: Voice, _link: Link) -> str:
    hours = [(str(hours), voice.duration(hours)) for hours in words.HOURS]
    reasons = [(str(number), voice.say(reason)) for number, reason in enumerate(words.REASONS)]
    return (
        _choices(voice.say(words.HOW_LONG), "hours", hours, chosen=str(words.HOURS[2]))
        + _choices(voice.say(words.WHY), "reason", reasons, chosen="0")
        + f'<label for="other">{escape(voice.say(words.OTHER_REASON))}</label>\n'
        + f'<input type="text" id="other" name="other" maxlength="{LONGEST_REASON}" autocomplete="off">\n'
    )


def _service(voice: Voice, link: Link) -> str:
    works = [(work, voice.say(words.WORKS[work])) for work in words.WORKS]
    options = "".join(
        f'<option value="{hours}">{escape(voice.say(text))}</option>\n' for hours, text in words.AGO.items()
    )
    return (
        _choices(voice.say(words.WHAT_WORK), "work", works, chosen=USUAL_WORK.get(link.key.kind, "other"))
        + f'<label for="ago">{escape(voice.say(words.WHEN))}</label>\n'
        + f'<select id="ago" name="ago">\n{options}</select>\n'
    )


_FIELDS = {LinkAct.ACKNOWLEDGE: _nothing, LinkAct.SHELVE: _shelf, LinkAct.SERVICE: _service}


def _choices(legend: str, name: str, values: Iterable[tuple[str, str]], chosen: str) -> str:
    lines = "".join(
        f'<label class="choice"><input type="radio" name="{name}" value="{escape(value)}" required'
        f"{' checked' * (value == chosen)}> {escape(text)}</label>\n"
        for value, text in values
    )
    return f"<fieldset>\n<legend>{escape(legend)}</legend>\n{lines}</fieldset>\n"
