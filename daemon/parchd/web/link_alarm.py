"""What people see of a link's alarm: what it said, and how it stands."""

import sqlite3

from parchd.alarms.links import Link
from parchd.alarms.standing import Standing
from parchd.alarms.wording import alarm_notice
from parchd.store.standings import raise_of
from parchd.web import link_words as words
from parchd.web.site import Known, Reader


def title_of(connection: sqlite3.Connection, link: Link, known: Known, reader: Reader) -> str:
    """What the alarm said when it was raised; its plain names where that is not known."""
    event = raise_of(connection, link.key, link.raised_us)
    return (
        f"{link.key.kind}: {link.key.name}" if event is None else alarm_notice(event, known.names, reader.voice).subject
    )


def state_words(standing: Standing, known: Known, reader: Reader) -> str:
    """How the alarm stands now, in the reader's words."""
    voice = reader.voice
    by = known.reader(standing.by).name if standing.by else voice.say(words.SOMEBODY)
    until = "" if standing.until_us is None else voice.local(standing.until_us)
    return voice.say(words.STATES[standing.state], by=by, time=voice.local(standing.since_us), until=until)
