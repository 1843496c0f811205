"""The register against a small model that knows nothing of tables: flags, and which of them counts first.

Whatever people, judges and time do in any order, both agree; and the history alone leads to the same standings.
"""

from dataclasses import dataclass

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening
from parchd.alarms.manners import Manner
from parchd.alarms.register import Register
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import Act, ActRefused, Transition, rebuilt

HOUR_US = 3600 * 1_000_000
REPEAT_US, RETURNED_US = 24 * HOUR_US, 30 * HOUR_US
KEYS = (AlarmKey(AlarmKind.AIR_LEAK, "tensiometer/a"), AlarmKey(AlarmKind.SILENT, "tensiometer/a"))
keys = st.sampled_from(KEYS)
hours = st.sampled_from([1, 5, 23, 24, 30, 100])


def manner(key: AlarmKey) -> Manner:
    return Manner(latches=key.kind is AlarmKind.AIR_LEAK, repeat_us=REPEAT_US, returned_us=RETURNED_US)


@dataclass
class Model:
    """One alarm as flags."""

    latches: bool
    on: bool = False
    seen: bool = False
    latched: bool = False
    waiting: bool = False
    out: bool = False
    reason: bool = False
    shelf_us: int | None = None
    since_us: int = 0
    was: str = "normal"

    def note(self, now_us: int) -> None:
        """Note when the state became another one."""
        if self.state != self.was:
            self.since_us, self.was = now_us, self.state

    @property
    def hidden(self) -> bool:
        return self.out or self.reason or self.shelf_us is not None

    @property
    def state(self) -> str:
        if self.out:
            return "out-of-service"
        if self.shelf_us is not None:
            return "shelved"
        if self.reason:
            return "suppressed"
        if self.on:
            return "acknowledged" if self.seen else "unacknowledged"
        return "latched" if self.latched else "returned-unacknowledged" if self.waiting else "normal"

    def raise_(self) -> None:
        self.on, self.seen, self.latched, self.waiting = True, False, False, False

    def clear(self) -> None:
        self.on = False
        self.latched = self.latches
        self.waiting = not (self.latches or self.seen or self.hidden)
        self.seen = self.seen and self.latches

    def acknowledge(self) -> bool:
        may = not self.out and self.shelf_us is None
        useful = may and not self.seen and (self.on or ((self.latched or self.waiting) and not self.hidden))
        if useful:
            self.seen = self.on or self.latched
            self.waiting = False
        return useful

    def reset(self) -> bool:
        useful = self.latched
        if useful:
            self.latched = self.seen = False
        return useful

    def shelve(self, until_us: int) -> bool:
        if not self.out:
            self.shelf_us, self.seen, self.waiting = until_us, False, False
        return not self.out

    def unshelve(self) -> bool:
        useful, self.shelf_us = self.shelf_us is not None, None
        return useful

    def remove(self) -> None:
        self.out, self.shelf_us, self.seen, self.waiting = True, None, False, False

    def restore(self) -> bool:
        useful, self.out = self.out, False
        return useful

    def wait(self, now_us: int) -> None:
        if self.shelf_us is not None and now_us >= self.shelf_us:
            self.shelf_us = None
        elif self.waiting and now_us >= self.since_us + RETURNED_US:
            self.waiting = False
        elif self.on and not self.hidden and now_us >= self.since_us + REPEAT_US:
            self.seen, self.since_us = False, now_us


class Life(RuleBasedStateMachine):
    def __init__(self) -> None:
        super().__init__()
        self.now_us = 1
        self.register = Register(manner)
        self.models = {key: Model(manner(key).latches) for key in KEYS}
        self.history: list[Transition] = []

    def judge(self, key: AlarmKey, change: Change) -> None:
        event = AlarmEvent(key, change, self.now_us, self.now_us)
        self.history += self.register.take([event], self.now_us)

    def act(self, happening: Happening, key: AlarmKey, until_us: int | None = None) -> bool:
        act = Act(happening, key, by="Ada", why="because", until_us=until_us)
        try:
            self.history += self.register.act(act, self.now_us)
        except ActRefused:
            return False
        return True

    @rule(key=keys)
    def the_condition_comes(self, key: AlarmKey) -> None:
        if not self.models[key].on:
            self.judge(key, Change.RAISED)
            self.models[key].raise_()

    @rule(key=keys)
    def the_condition_goes(self, key: AlarmKey) -> None:
        if self.models[key].on:
            self.judge(key, Change.CLEARED)
            self.models[key].clear()

    @rule(key=keys)
    def somebody_acknowledges(self, key: AlarmKey) -> None:
        assert self.act(Happening.ACKNOWLEDGED, key) == self.models[key].acknowledge()

    @rule(key=keys)
    def somebody_resets(self, key: AlarmKey) -> None:
        assert self.act(Happening.RESET, key) == self.models[key].reset()

    @rule(key=keys, hours=hours)
    def somebody_shelves(self, key: AlarmKey, hours: int) -> None:
        until_us = self.now_us + hours * HOUR_US
        assert self.act(Happening.SHELVED, key, until_us) == self.models[key].shelve(until_us)

    @rule(key=keys)
    def somebody_unshelves(self, key: AlarmKey) -> None:
        assert self.act(Happening.UNSHELVED, key) == self.models[key].unshelve()

    @rule(key=keys)
    def somebody_takes_it_out(self, key: AlarmKey) -> None:
        assert self.act(Happening.REMOVED, key)
        self.models[key].remove()

    @rule(key=keys)
    def somebody_puts_it_back(self, key: AlarmKey) -> None:
        assert self.act(Happening.RESTORED, key) == self.models[key].restore()

    @rule(which=st.sets(keys))
    def reasons_to_suppress(self, which: set[AlarmKey]) -> None:
        self.history += self.register.suppress(dict.fromkeys(which, "gateway"), self.now_us)
        for key, model in self.models.items():
            model.reason = key in which
            model.waiting = model.waiting and not model.reason

    @rule(hours=hours)
    def time_passes(self, hours: int) -> None:
        self.now_us += hours * HOUR_US
        self.history += self.register.tick(self.now_us)
        for model in self.models.values():
            model.wait(self.now_us)

    @precondition(lambda self: self.history)
    @rule()
    def the_daemon_starts_anew(self) -> None:
        self.register = Register(manner, dict(self.register.standings))

    @invariant()
    def both_agree(self) -> None:
        for key, model in self.models.items():
            model.note(self.now_us)
            stands = self.register.standing(key)
            assert (stands.state.value, stands.is_on) == (model.state, model.on)

    @invariant()
    def the_history_tells_it_all(self) -> None:
        assert rebuilt(self.history) == self.register.standings

    @invariant()
    def each_step_begins_where_the_last_one_ended(self) -> None:
        last = dict.fromkeys(KEYS, "normal")
        for step in self.history:
            assert step.before.value == last[step.key]
            last[step.key] = step.after.value


TestLife = Life.TestCase
TestLife.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
