"""What happens behind a link: looking changes nothing, pressing the button does it once."""

import logging
from collections.abc import Callable
from functools import partial
from urllib.parse import parse_qs

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from parchd.alarms.links import LinkForged, LinkVerdict
from parchd.app.link_case import Case, look_up
from parchd.app.messages import Ask
from parchd.app.requests import Answer, UseLink
from parchd.contract import Verdict
from parchd.web import link_pages as pages
from parchd.web import link_words as words
from parchd.web.asking import from_engine
from parchd.web.link_alarm import state_words, title_of
from parchd.web.site import Reader, Site, TooLarge, address_of, body_of
from parchd.words import Voice

logger = logging.getLogger(__name__)

LARGEST_FORM = 8 * 1024


class LinkPages:
    """Serves ``/a/TOKEN``. The signature is the right: nothing else is asked for."""

    def __init__(self, site: Site) -> None:
        self._site = site

    @property
    def _stranger(self) -> Reader:
        """Somebody of whom nothing is known."""
        return Reader("", Voice(time_zone=self._site.known.names.time_zone))

    async def show(self, request: Request) -> Response:
        """Show what a link does. Mail scanners that follow links set nothing off."""
        return self._look(request.path_params["token"], address_of(request))

    async def use(self, request: Request) -> Response:
        """Do it: the button was pressed."""
        token = request.path_params["token"]
        refused = self._look(token, address_of(request))
        if refused.status_code != 200:
            return refused
        try:
            form = _form(await body_of(request, LARGEST_FORM))
            asked = _asked(token, form)
        except (TooLarge, ValueError):
            return Response("this form is not one of ours\n", 400, media_type="text/plain")
        answer: Answer | None = await from_engine(partial(self._ask, asked))
        return self._after(token, answer)

    def _ask(self, asked: UseLink, take: Callable[[Answer], None]) -> None:
        """Ask the engine; what it says while it works is left out."""
        self._site.tell(Ask(asked, lambda answer: None if answer.state == "working" else take(answer)))

    def _look(self, token: str, address: str) -> HTMLResponse:
        known, patience = self._site.known, self._site.patience
        if patience.wait_s(address) > 0:
            return pages.too_many(known, self._stranger)
        with self._site.journal() as connection:
            try:
                case = look_up(connection, token, self._site.clock.now_us())
            except LinkForged:
                patience.wrong(address)
                logger.info("a link that is none of ours, from %s", address, extra={"event": "web.wrong-link"})
                return pages.ended(known, self._stranger, LinkVerdict.FORGED)
            reader = known.reader(case.link.person)
            alarm = title_of(connection, case.link, known, reader)
        state = state_words(case.standing, known, reader)
        if case.verdict is None:
            return pages.question(known, reader, case, alarm, state)
        return pages.ended(known, reader, case.verdict, time_us=_time_us(case), alarm=alarm, state=state)

    def _after(self, token: str, answer: Answer | None) -> HTMLResponse:
        """Say what became of it, after a look at how the alarm stands now."""
        known = self._site.known
        if answer is not None and answer.verdict is LinkVerdict.FORGED:  # the key was changed just now
            return pages.ended(known, self._stranger, LinkVerdict.FORGED)
        with self._site.journal() as connection:
            case = look_up(connection, token, self._site.clock.now_us())
            reader = known.reader(case.link.person)
            alarm = title_of(connection, case.link, known, reader)
        verdict = Verdict.BUSY if answer is None or answer.verdict is None else answer.verdict
        if answer is not None and verdict is Verdict.DONE:
            return pages.done(known, reader, case.link, alarm, answer.until_us)
        state = state_words(case.standing, known, reader)
        why = verdict if verdict in words.ENDS else Verdict.REFUSED
        return pages.ended(known, reader, why, time_us=_time_us(case), alarm=alarm, state=state)


def _time_us(case: Case) -> int:
    return case.link.expires_us if case.used is None else case.used.at_us


def _form(body: bytes) -> dict[str, str]:
    """Take a form apart.

    Raises:
        ValueError: it is none.
    """
    fields = parse_qs(body.decode("ascii"), keep_blank_values=True, strict_parsing=bool(body), max_num_fields=10)
    return {name: values[0].strip() for name, values in fields.items()}


def _asked(token: str, form: dict[str, str]) -> UseLink:
    """What a form asks for.

    Raises:
        ValueError: it has a choice that no page offers.
    """
    asked = UseLink(token=token)
    if "hours" in form:
        hours = int(form["hours"])
        if hours not in words.HOURS:
            raise ValueError("not one of ours")
        asked = asked.model_copy(update={"hours": float(hours), "why": _reason(form)})
    if "work" in form:
        if form["work"] not in words.WORKS or form.get("ago", "0") not in words.AGO:
            raise ValueError("not one of ours")
        asked = asked.model_copy(update={"work": form["work"], "ago_h": float(form.get("ago", "0"))})
    return asked


def _reason(form: dict[str, str]) -> str:
    own = " ".join(form.get("other", "").split())
    if len(own) > pages.LONGEST_REASON or not own.isprintable():
        raise ValueError("too long")
    reason = int(form.get("reason", "0"))
    if not 0 <= reason < len(words.REASONS):
        raise ValueError("not one of ours")
    return own or words.REASONS[reason]
