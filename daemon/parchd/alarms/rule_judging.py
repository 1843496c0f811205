"""Does a rule hold? Its terms by their last words, and what an event rests on."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from parchd.alarms.condition import NORMAL, Change
from parchd.alarms.events import AlarmEvent
from parchd.alarms.faults import Conditions, move
from parchd.alarms.rule_state import GRAIN_US, RuleState, Said
from parchd.alarms.terms import UNITS, Level, Presence, Quantity, Rule, Term
from parchd.clock import US_PER_S
from parchd.contract import JsonValue


def note_level(
    watcher: tuple[Rule, str, Level],
    state: RuleState,
    conditions: Conditions,
    value: tuple[float, float],
    time_us: int,
) -> list[AlarmEvent]:
    """Note what is said of one level of a rule, and judge the rule if that may change it.

    Args:
        value: what it is, and what it must be taken to be until a fall is explained.
    """
    rule, word, level = watcher
    before = state.said.get(word)
    holds = level.holds(*value, before is not None and before.holds)
    state.note(word, holds, value[0], time_us)
    if not holds and rule.key not in conditions:
        return []
    return judge_rule(rule, state, conditions, time_us)


def judge_rule(rule: Rule, state: RuleState, conditions: Conditions, time_us: int) -> list[AlarmEvent]:
    """Ask at a time whether a rule holds; ``conditions`` is changed in place.

    It comes when all of its terms hold (or one, where one is enough), each by a word that is fresh. It goes when one
    does not hold any more (none does), by the last word of each.
    """
    terms = zip(rule.terms, rule.words, strict=True)
    now = [_stands(word, term, state, conditions, time_us) for term, word in terms]
    fresh, last = [fresh for fresh, _ in now], [last for _, last in now]
    on = all(fresh) if rule.all_of else any(fresh)
    off = False in last if rule.all_of else True not in last
    event = move(conditions, rule.key, rule.delays, on, off, time_us)
    return [] if event is None else [_with_evidence(event, rule, state, last)]


def rests_on(rule: Rule, state: RuleState, doubted_us: Mapping[str, int]) -> str | None:
    """A tensiometer in doubt that a rule which is on rests on; ``None``: it rests on none, or on others as well.

    A word from before the doubt stays one that can be believed.

    Args:
        doubted_us: since when each tensiometer is in doubt.
    """
    found: list[str | None] = []
    for term, word in zip(rule.terms, rule.words, strict=True):
        said = state.said.get(word)
        if isinstance(term, Level) and (said is None or said.holds):
            found.append(_doubted(term, said, doubted_us))
        elif isinstance(term, Presence) and not rule.all_of:
            found.append(None)
    names = [name for name in found if name is not None]
    enough = bool(names) if rule.all_of else bool(names) and len(names) == len(found)
    return names[0] if enough else None


def _doubted(level: Level, said: Said | None, doubted_us: Mapping[str, int]) -> str | None:
    """One of the tensiometers of a level, if all of them are in doubt and were when they spoke."""
    members = level.members or ((level.name,) if level.quantity is Quantity.TENSION else ())
    if not members or any(member not in doubted_us for member in members):
        return None
    since_us = max(doubted_us[member] for member in members)
    return members[0] if said is None or said.since_us >= since_us else None


def _stands(word: str, term: Term, state: RuleState, conditions: Conditions, time_us: int) -> tuple[bool, bool | None]:
    """Whether a term holds by a fresh word, and by the last one (``None``: there is none)."""
    if isinstance(term, Presence):
        on = any(conditions.get(key, NORMAL).phase.is_active for key in term.keys)
        return on is not term.absent, on is not term.absent
    said = state.said.get(word)
    if said is None:
        return False, None
    return said.holds and _is_fresh(said, term, time_us), said.holds


def _is_fresh(said: Said, level: Level, time_us: int) -> bool:
    return time_us - said.seen_us <= level.fresh_s * US_PER_S + GRAIN_US


def _with_evidence(event: AlarmEvent, rule: Rule, state: RuleState, last: Sequence[bool | None]) -> AlarmEvent:
    evidence: dict[str, JsonValue] = {}
    if event.change is Change.RAISED:
        terms = zip(rule.terms, rule.words, last, strict=True)
        held: list[JsonValue] = [_shown(term, state.said.get(word)) for term, word, holds in terms if holds]
        evidence["held"] = held
    if rule.is_own:
        evidence |= {"say": rule.say, "respond": rule.respond}
    return replace(event, evidence=evidence)


def _shown(term: Term, said: Said | None) -> JsonValue:
    if isinstance(term, Presence):
        return {"what": term.what, "name": term.name, "absent": term.absent}
    value = None if said is None else round(said.value, 3)
    return {
        "what": term.quantity.value, "name": term.name, "value": value, "limit": term.limit, "above": term.above,
        "unit": UNITS[term.quantity],
    }  # fmt: skip
