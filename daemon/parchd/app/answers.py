"""How a message can be answered: with links where phones reach a page, else with a command."""

import sqlite3
from dataclasses import dataclass

from parchd.alarms.events import AlarmKey
from parchd.alarms.links import Link, LinkAct, acts_for, sign
from parchd.clock import US_PER_S
from parchd.contract import AnswerLink
from parchd.store.answered import link_key
from parchd.words import Voice, text

LABELS = {
    LinkAct.ACKNOWLEDGE: text("Acknowledge"),
    LinkAct.SERVICE: text("Work is done"),
    LinkAct.SHELVE: text("Keep quiet"),
}


@dataclass(frozen=True, slots=True)
class LinkSetup:
    """Where links lead, and how long they can be used.

    Args:
        public_url: address of the page as phones reach it, without a slash at its end.
        lifetime_us: from the message on.
    """

    public_url: str
    lifetime_us: int


@dataclass(frozen=True, slots=True)
class LinkMaker:
    """Makes the links of messages: the same right of the same moment is always the same link."""

    setup: LinkSetup
    key: bytes

    def answers_for(
        self, alarm: AlarmKey, raised_us: int, person: str, voice: Voice, now_us: int
    ) -> tuple[AnswerLink, ...]:
        """All that one person may do about an episode of an alarm.

        Args:
            raised_us: names the episode.
            person: whose links they are, by key.
            voice: how the person is spoken to.
            now_us: time of the message.
        """
        return tuple(
            self.answer(act, alarm, raised_us, person, voice.say(LABELS[act]), now_us) for act in acts_for(alarm)
        )

    def answer(self, act: LinkAct, alarm: AlarmKey, raised_us: int, person: str, label: str, now_us: int) -> AnswerLink:
        """One of them."""
        expires_us = (now_us + self.setup.lifetime_us) // US_PER_S * US_PER_S
        token = sign(Link(act, alarm, raised_us, person, expires_us), self.key)
        return AnswerLink(label, f"{self.setup.public_url}/a/{token}", act.value)


def link_maker(connection: sqlite3.Connection, setup: LinkSetup | None) -> LinkMaker | None:
    """The maker of links; ``None``: messages carry none."""
    key = None if setup is None else link_key(connection)
    return None if setup is None or key is None else LinkMaker(setup, key)


def answering_command(alarm: AlarmKey) -> str:
    """The command that acknowledges an alarm.

    >>> from parchd.alarms.kinds import AlarmKind
    >>> answering_command(AlarmKey(AlarmKind.SILENT, "tensiometer/north-1"))
    'parchd acknowledge north-1 --alarm silent'
    """
    return f"parchd acknowledge {alarm.name} --alarm {alarm.kind}"
