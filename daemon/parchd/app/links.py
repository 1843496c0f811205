"""Using a link, within the engine's transaction: it works once."""

import sqlite3
from collections.abc import Callable, Iterator

from parchd.alarms.events import episode_name
from parchd.alarms.links import Link, LinkAct, LinkForged, LinkVerdict, mark_of
from parchd.app.link_case import look_up
from parchd.app.requests import (
    SETTLES_H,
    TOOK_MIN,
    Acknowledge,
    Answer,
    AnyRequest,
    RecordService,
    RenewLinks,
    Shelve,
    UseLink,
)
from parchd.clock import US_PER_S
from parchd.contract import Verdict
from parchd.store.answered import Answered, note_answer, set_link_key

HOUR_US = 3600 * US_PER_S
USUAL_HOURS = 24.0
USUAL_REASON = "no reason given"


def use_link(connection: sqlite3.Connection, use: UseLink, do: Callable[[AnyRequest], Answer], now_us: int) -> Answer:
    """Do what a link gives the right to, unless it was used, is too old, or its episode is over.

    Args:
        do: does what is asked, in this transaction.
    """
    try:
        case = look_up(connection, use.token, now_us)
    except LinkForged:
        return Answer(state="failed", verdict=LinkVerdict.FORGED, text="no link of ours")
    if case.verdict is not None:
        return Answer(state="failed", verdict=case.verdict, text=f"the link is {case.verdict}")
    first, *others = _requests(case.link, use, now_us)
    answer = do(first)
    if answer.state != "done":
        return answer.model_copy(update={"verdict": Verdict.REFUSED})
    for request in others:
        do(request)
    answer = answer.model_copy(update={"verdict": Verdict.DONE, "until_us": _until_us(case.link, use, now_us)})
    asked = use.model_dump_json(exclude={"token"}, exclude_defaults=True)
    used = Answered(now_us, asked, answer.model_dump_json())
    note_answer(connection, f"link/{mark_of(use.token)}", used, case.link.expires_us)
    return answer


def _requests(link: Link, use: UseLink, now_us: int) -> Iterator[AnyRequest]:
    """What a link amounts to; the first one counts."""
    episode = episode_name(link.key, link.raised_us)
    meant = {"subject": link.key.subject, "kind": link.key.kind, "episode": episode, "by": link.person, "via": "link"}
    match link.act:
        case LinkAct.ACKNOWLEDGE:
            yield Acknowledge.model_validate(meant)
        case LinkAct.SHELVE:
            hours, why = use.hours or USUAL_HOURS, use.why or USUAL_REASON
            yield Shelve.model_validate({**meant, "hours": hours, "why": why})
        case LinkAct.SERVICE:
            yield _service(link, use, now_us)
            yield Acknowledge.model_validate(meant)  # who worked on it knows of it, if it is not over by that


def _service(link: Link, use: UseLink, now_us: int) -> RecordService:
    done_us = now_us - round(use.ago_h * HOUR_US)
    return RecordService(
        tensiometer=link.key.name,
        work=use.work,
        begin_us=done_us - round(TOOK_MIN * 60 * US_PER_S),
        end_us=done_us + round(SETTLES_H[use.work] * HOUR_US),
        by=link.person,
        note="told with a link",
    )


def _until_us(link: Link, use: UseLink, now_us: int) -> int | None:
    """Until when it counts: the end of a shelf, or of the time that an instrument needs to settle."""
    if link.act is LinkAct.SHELVE:
        return now_us + round((use.hours or USUAL_HOURS) * HOUR_US)
    return _service(link, use, now_us).end_us if link.act is LinkAct.SERVICE else None


def renew_links(connection: sqlite3.Connection, request: RenewLinks) -> Answer:
    """Sign links with another key from now on."""
    set_link_key(connection, bytes.fromhex(request.key))
    return Answer(state="done", text="links that were sent before do nothing any more", part=1.0)
