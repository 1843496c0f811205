"""The interface for programs: what is the matter, and answering it, with a token each."""

import logging
import math
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from pydantic import BaseModel, ValidationError
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from parchd.alarms.events import AlarmKey, parse_key
from parchd.alarms.standing import Standing
from parchd.app.commands import asking
from parchd.clock import from_datetime, to_datetime
from parchd.contract import Command, Do, Reply, Verdict
from parchd.store.standings import load_standings, steps_after
from parchd.web.api_models import (
    ACT_MODELS,
    Act,
    Alarm,
    Alarms,
    History,
    Outcome,
    ShelveAct,
    alarm_model,
    step_model,
)
from parchd.web.asking import from_engine
from parchd.web.guard import who
from parchd.web.problems import Failed
from parchd.web.site import Site, TooLarge, address_of, body_of

logger = logging.getLogger(__name__)

LARGEST_BODY = 8 * 1024
USUAL_STEPS = 100
MOST_STEPS = 1000
END_OF_TIME_US = 2**63 - 1
_STATUS = {
    Verdict.REFUSED: 409,
    Verdict.UNKNOWN: 404,
    Verdict.CLASH: 422,
    Verdict.LATE: 409,
    Verdict.BUSY: 503,
}


class Api:
    """Serves ``/api/v1``."""

    def __init__(self, site: Site) -> None:
        self._site = site

    async def alarms(self, request: Request) -> Response:
        """All alarms that are not at rest."""
        self._program(request)
        with self._site.journal() as connection:
            standings = load_standings(connection)
        at_us = self._site.clock.now_us()
        found = [self._model(key, standings) for key in sorted(standings)]
        return _json(Alarms(at=to_datetime(at_us), alarms=[one for one in found if one is not None]))

    async def history(self, request: Request) -> Response:
        """Steps in the life of alarms, page by page."""
        self._program(request)
        wanted = _wanted(request.query_params)
        with self._site.journal() as connection:
            rows = steps_after(connection, wanted.after, wanted.start_us, wanted.end_us, wanted.limit)
        steps = [step_model(number, step) for number, step in rows]
        return _json(History(steps=steps, next=rows[-1][0] if len(rows) == wanted.limit else None))

    def acting(self, do: Do) -> Callable[[Request], Awaitable[Response]]:
        """The endpoint of one act."""

        async def act(request: Request) -> Response:
            return await self._act(request, do)

        return act

    async def _act(self, request: Request, do: Do) -> Response:
        """Do something to an alarm, and answer once it is on disk."""
        program = self._program(request)
        act = await _act(request, do)
        alarm: str = request.path_params["alarm"]
        command = Command(
            _idempotency_key(request), do, alarm, _by(act, program), act.why,
            act.hours if isinstance(act, ShelveAct) else None, act.episode,
        )  # fmt: skip
        reply = await from_engine(partial(asking(self._site.tell, program, "api"), command))
        if reply is None:
            reply = Reply(Verdict.BUSY, "It takes longer than usual. Ask for the alarms to see whether it was done.")
        if reply.verdict is not Verdict.DONE:
            headers = {"Retry-After": "5"} if reply.verdict is Verdict.BUSY else {}
            raise Failed(_STATUS[reply.verdict], reply.verdict.value, reply.text, headers)
        with self._site.journal() as connection:
            standings = load_standings(connection)
        return _json(Outcome(outcome="done", text=reply.text, alarm=self._model(parse_key(alarm), standings)))

    def _program(self, request: Request) -> str:
        """Find out who asks.

        Raises:
            Failed: nobody who may.
        """
        site, address = self._site, address_of(request)
        wait_s = site.patience.wait_s(address)
        if wait_s > 0:
            raise Failed(
                429, "too-many-wrong", "Too many wrong tokens came from this address.",
                {"Retry-After": str(math.ceil(wait_s))},
            )  # fmt: skip
        program = who(request.headers.get("authorization", ""), site.known.settings.tokens)
        if program is None:
            site.patience.wrong(address)
            logger.warning("a wrong token from %s", address, extra={"event": "web.wrong-token"})
            raise Failed(
                401, "unknown", "Send the header Authorization: Bearer TOKEN, with a token of [web.tokens.NAME].",
                {"WWW-Authenticate": "Bearer"},
            )  # fmt: skip
        return program

    def _model(self, key: AlarmKey, standings: Mapping[AlarmKey, Standing]) -> Alarm | None:
        one = standings.get(key)
        return None if one is None else alarm_model(key, one, self._site.known.alarms.priority(*key))


@dataclass(frozen=True, slots=True)
class _Wanted:
    after: int
    start_us: int
    end_us: int
    limit: int


def _wanted(query: Mapping[str, str]) -> _Wanted:
    """Read what steps are wanted.

    Raises:
        Failed: a word of the query is not known, or not what it must be.
    """
    unknown = query.keys() - {"after", "since", "until", "limit"}
    if unknown:
        raise Failed(422, "invalid", f"{min(unknown)}: not known; there are after, since, until and limit")
    return _Wanted(
        _number(query, "after", 0, 0, END_OF_TIME_US),
        _time_us(query, "since", 0),
        _time_us(query, "until", END_OF_TIME_US),
        _number(query, "limit", USUAL_STEPS, 1, MOST_STEPS),
    )


def _number(query: Mapping[str, str], name: str, usual: int, least: int, most: int) -> int:
    text = query.get(name, str(usual))
    if not text.isascii() or not text.isdigit() or len(text) > 19 or not least <= int(text) <= most:
        raise Failed(422, "invalid", f"{name}: a whole number from {least} to {most}")
    return int(text)


def _time_us(query: Mapping[str, str], name: str, usual_us: int) -> int:
    if name not in query:
        return usual_us
    try:
        time = datetime.fromisoformat(query[name])
    except ValueError:
        time = None
    if time is None or time.tzinfo is None:
        raise Failed(422, "invalid", f"{name}: a time with its offset, such as 2026-06-01T06:00:00Z")
    return from_datetime(time)


async def _act(request: Request, do: Do) -> Act:
    """Read what is to be done.

    Raises:
        Failed: the body is none of ours.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise Failed(415, "invalid", "Send JSON, with the header Content-Type: application/json.")
    try:
        body = await body_of(request, LARGEST_BODY)
    except TooLarge as error:
        raise Failed(413, "too-large", f"Send {error}.") from error
    try:
        return ACT_MODELS[do].model_validate_json(body or b"{}")
    except ValidationError as error:
        (first, *_) = error.errors(include_url=False, include_input=False)
        where = ".".join(map(str, first["loc"])) or "body"
        raise Failed(422, "invalid", f"{where}: {first['msg']}") from None


def _idempotency_key(request: Request) -> str:
    """What names a request, so that it counts once; in quotes or without.

    Raises:
        Failed: it is too long, or empty.
    """
    sent = request.headers.get("idempotency-key")
    if sent is None:
        return ""
    key = sent.strip().strip('"')
    if not 1 <= len(key) <= 100 or not key.isprintable() or not key.isascii():
        raise Failed(422, "invalid", "Idempotency-Key: 1 to 100 plain characters")
    return key


def _by(act: Act, program: str) -> str:
    """Who did it: the program by its token, and whom it names."""
    return f"{act.by} ({program})" if act.by else program


def _json(model: BaseModel) -> JSONResponse:
    return JSONResponse(model.model_dump(mode="json"), headers={"Cache-Control": "no-store"})
