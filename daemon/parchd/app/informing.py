"""Telling people within the engine's transactions: what they are told is in the outbox with what made it."""

import logging
import sqlite3
from collections.abc import Callable, Mapping, Sequence

from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.standing import Standing, Transition
from parchd.app.post import for_recipient
from parchd.contract import Notice, NoticeKind
from parchd.people.adopting import adopt
from parchd.people.flooding import flood_events, flood_key
from parchd.people.person import PeopleSetup
from parchd.people.state import TellingState
from parchd.people.tell import Passing, tell
from parchd.people.telling import Telling
from parchd.store.outbox import Outbox
from parchd.store.tellings import TellingKeeper, load_telling_state, note_tellings

logger = logging.getLogger(__name__)

Write = Callable[[Telling], Notice]
"""Puts one message into words."""


class Informing:
    """Who was told of what, and what waits for whom. Every call but `load` stands within a transaction."""

    def __init__(self, connection: sqlite3.Connection, outbox: Outbox) -> None:
        self._connection = connection
        self._outbox = outbox
        self._state = TellingState()
        self._keeper = TellingKeeper(self._state)

    def load(self) -> None:
        """Take what is on disk as the truth."""
        self._state = load_telling_state(self._connection)
        self._keeper = TellingKeeper(self._state)

    def adopt(self, people: PeopleSetup, standings: Mapping[AlarmKey, Standing], now_us: int) -> None:
        """Fit what is remembered to people and alarms that may be others."""
        self._state = adopt(people, self._state, standings, now_us)
        self._keeper.save(self._connection, self._state, now_us)

    def tell(
        self, people: PeopleSetup, steps: Sequence[Transition], now_us: int, write: Write, passing: Passing
    ) -> tuple[bool, list[AlarmEvent]]:
        """Take steps in the life of alarms, and let time do its part.

        Gives whether somebody is told of something, and floods of alarms that began or ended."""
        if not steps and passing is Passing.NONE:
            return False, []
        before = self._state
        self._state, tellings = tell(people, before, steps, now_us, passing)
        for telling in tellings:
            self._post(people, telling, write(telling), now_us)
        note_tellings(self._connection, tellings)
        self._keeper.save(self._connection, self._state, now_us)
        return bool(tellings), flood_events(before, self._state, now_us)

    def knows_flood(self, key: AlarmKey) -> bool:
        """Whether there is a flood of alarms for the person that an alarm speaks of."""
        person = self._state.persons.get(key.name)
        return key == flood_key(key.name) and person is not None and person.flood is not None

    def _post(self, people: PeopleSetup, telling: Telling, notice: Notice, now_us: int) -> None:
        for way in telling.reach:
            self._outbox.add(way.notifier, way.to, for_recipient(notice, way.notifier, way.to), now_us)
        person = telling.person.name
        if any(item.despite for item in telling.items):
            logger.warning(
                "nobody else can be reached: %s is told, whatever their hours: %s", person, notice.subject,
                extra={"event": "message.last_resort"},
            )  # fmt: skip
        elif telling.kind is NoticeKind.ESCALATED:
            before = ", ".join(people.persons[key].name for key in telling.items[0].unanswered if key in people.persons)
            logger.info(
                "%s is told, for nobody answered (%s): %s", person, before or "nobody was told", notice.subject,
                extra={"event": "message.escalated"},
            )  # fmt: skip
