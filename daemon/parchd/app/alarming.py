"""The life of alarms within the engine's transactions: each step is on disk with what made it."""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from parchd.alarms.adopting import adopt, serviced
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.manners import MannerOf, usual_manner
from parchd.alarms.register import Register
from parchd.alarms.standing import Act, Standing, Transition
from parchd.store.standings import load_standings, raise_of, save_events, save_standings, save_steps
from parchd.store.states import get_meta, set_meta


class Alarming:
    """How alarms stand, and what of it is on disk. Every call but `load` stands within a transaction.

    Transitions that come back are written down already. One that is to be heard has the event of its raise, also
    where no judge spoke now.
    """

    def __init__(self, connection: sqlite3.Connection, manner: MannerOf = usual_manner) -> None:
        self._connection = connection
        self._manner = manner
        self._register = Register(manner)

    def load(self) -> None:
        """Take what is on disk as the truth."""
        self._register = Register(
            self._manner, load_standings(self._connection), int(get_meta(self._connection, "leapt_us") or 0)
        )

    @property
    def standings(self) -> Mapping[AlarmKey, Standing]:
        """How alarms stand that are not at rest."""
        return self._register.standings

    def take(
        self, events: Sequence[AlarmEvent], now_us: int, by: str = "", reasons: Mapping[AlarmKey, str] | None = None
    ) -> list[Transition]:
        """Take what judges say.

        What is to be suppressed now is so before its raise is told; what is not any more is released after its end.

        Args:
            by: who is behind it, where the events do not say.
            reasons: what is suppressed by design from now on, and why; ``None``: as before.
        """
        if not events:
            return []
        register = self._register
        hidden = {key: one.by_design for key, one in register.standings.items() if one.by_design}
        steps = register.suppress({**hidden, **(reasons or {})}, now_us) + register.take(events, now_us, by)
        steps += register.suppress(hidden if reasons is None else reasons, now_us)
        return self._keep(steps, now_us, events)

    def leapt(self, now_us: int) -> None:
        """Let what waits for time to go by wait anew from now on, see `Register.leapt`."""
        set_meta(self._connection, "leapt_us", str(now_us))
        self._register.leapt(now_us)

    def tick(self, now_us: int) -> list[Transition]:
        """Let time do its part."""
        return self._keep(self._register.tick(now_us), now_us)

    def act(self, act: Act, now_us: int) -> list[Transition]:
        """Do what somebody wants.

        Raises:
            ActRefused: it cannot be done; nothing was.
        """
        return self._keep(self._register.act(act, now_us), now_us)

    def suppress(self, reasons: Mapping[AlarmKey, str], now_us: int) -> list[Transition]:
        """Suppress these alarms by design, and release all others."""
        return self._keep(self._register.suppress(reasons, now_us), now_us)

    def serviced(self, tensiometer: str, by: str, now_us: int) -> list[Transition]:
        """Reset what is latched about a tensiometer: a service was written down."""
        return self._keep(serviced(self._register, f"tensiometer/{tensiometer}", by, now_us), now_us)

    def adopt(
        self, manner: MannerOf, knows: Callable[[AlarmKey], bool], is_on: Callable[[AlarmKey], bool], now_us: int
    ) -> list[Transition]:
        """Fit to a configuration, see `parchd.alarms.adopting.adopt`."""
        self._manner = manner
        return self._keep(adopt(self._register, manner, knows, is_on, now_us), now_us)

    def _keep(self, steps: Sequence[Transition], now_us: int, events: Sequence[AlarmEvent] = ()) -> list[Transition]:
        rows = save_events(self._connection, events, now_us)
        if not steps:
            return []
        save_steps(self._connection, steps, events, rows)
        changed = dict.fromkeys(step.key for step in steps)
        save_standings(self._connection, {key: self._register.standing(key) for key in changed})
        return [self._heard(step) for step in steps]

    def _heard(self, step: Transition) -> Transition:
        if not step.annunciates or step.event is not None or step.raised_us is None:
            return step
        return replace(step, event=raise_of(self._connection, step.key, step.raised_us))
