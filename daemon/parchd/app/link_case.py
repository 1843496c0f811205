"""What a link is about, and whether it can still be used: read from the journal, nothing is changed."""

import sqlite3
from dataclasses import dataclass

from parchd.alarms.lifecycle import State
from parchd.alarms.links import Link, LinkAct, LinkForged, LinkVerdict, mark_of, read
from parchd.alarms.standing import Standing
from parchd.store.answered import Answered, answered, link_key
from parchd.store.standings import load_standings


@dataclass(frozen=True, slots=True)
class Case:
    """A link with what is known of its alarm.

    Args:
        link: what it lets a person do.
        used: when and how it was used; ``None``: it was not.
        standing: how its alarm stands now.
        verdict: why it cannot be used; ``None``: it can.
    """

    link: Link
    used: Answered | None
    standing: Standing
    verdict: LinkVerdict | None


def look_up(connection: sqlite3.Connection, token: str, now_us: int) -> Case:
    """Look up what a link is about.

    Raises:
        LinkForged: it is none of ours.
    """
    key = link_key(connection)
    if key is None:
        raise LinkForged("no link was ever made")
    link = read(token, key)
    used = answered(connection, f"link/{mark_of(token)}")
    standing = load_standings(connection).get(link.key, Standing())
    return Case(link, used, standing, _verdict(link, used, standing, now_us))


def _verdict(link: Link, used: Answered | None, standing: Standing, now_us: int) -> LinkVerdict | None:
    if used is not None:
        return LinkVerdict.USED
    if link.expires_us <= now_us:
        return LinkVerdict.EXPIRED
    if standing.raised_us != link.raised_us:
        return LinkVerdict.ENDED
    return LinkVerdict.NEEDLESS if _is_answered(link.act, standing) else None


def _is_answered(act: LinkAct, standing: Standing) -> bool:
    """Whether an alarm stands so that the act would change nothing, or is not allowed."""
    if act is LinkAct.ACKNOWLEDGE:
        return standing.acknowledged_us is not None or standing.state in (State.SHELVED, State.OUT_OF_SERVICE)
    return act is LinkAct.SHELVE and standing.state is State.OUT_OF_SERVICE
