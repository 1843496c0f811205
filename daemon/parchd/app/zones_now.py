"""How each zone and each tensiometer stands now, in words."""

from collections.abc import Iterable
from dataclasses import dataclass

from parchd.alarms.believed import believed, faults_of
from parchd.alarms.book import AlarmState
from parchd.alarms.condition import NORMAL
from parchd.alarms.irrigation import EMPTY
from parchd.alarms.names import Names
from parchd.alarms.polls import least_votes, zone_kpa
from parchd.alarms.rules import AlarmKind, FaultRule, IrrigationRule
from parchd.app.ailing import fault_title
from parchd.clock import US_PER_S
from parchd.contract import Flag
from parchd.store.reader import Latest
from parchd.words import Voice

OLD_US = 2 * 3600 * US_PER_S
"""A zone may be judged by its mornings only: its tension is then hours older than what its tensiometers read."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How one thing stands: its name, its need in words, its tension.

    Args:
        words: in the voice that was asked for.
        believed: of a zone, how many of its tensiometers can be believed, and how many it has.
        age_us: of a zone, how old the newest of what its tension was made from is.
    """

    name: str
    words: str
    tension_kpa: float | None
    needs_hand: bool
    believed: tuple[int, int] | None = None
    age_us: int = 0

    def text(self, voice: Voice | None = None) -> str:
        """Its need, how old its tension is if it is no longer fresh, and who of it cannot be believed.

        >>> Standing("north block", "enough water", 12.0, False, (2, 3)).text()
        'enough water (2 of 3 tensiometers can be believed)'
        >>> Standing("north block", "enough water", 12.0, False, (3, 3), 5 * 3600 * US_PER_S).text()
        'enough water (measured 5 h ago)'
        """
        voice, said = voice or Voice(), []
        if self.age_us >= OLD_US:
            said.append(voice.say("measured {age}", age=ago(self.age_us, voice)))
        if self.believed is not None and self.believed[0] != self.believed[1]:
            count, of = self.believed
            said.append(voice.say("{count} of {of} tensiometers can be believed", count=count, of=of))
        return f"{self.words} ({'; '.join(said)})" if said else self.words


def zone_standing(
    rule: IrrigationRule,
    state: AlarmState,
    names: Names,
    now_us: int,
    faults: Iterable[FaultRule] = (),
    voice: Voice | None = None,
) -> Standing:
    """How a zone (or a tensiometer with limits of its own) stands.

    The last word of a tensiometer that is known to be faulty does not count, however fresh. With fewer tensiometers
    that can be believed than the rule asks for the zone is "unknown", never wet; a need that was raised stays.

    Args:
        faults: of all tensiometers of the site; they tell which source each belongs to.
        voice: ``None``: English.
    """
    voice = voice or Voice()
    rules = {one.tensiometer: one for one in faults}
    trusted = believed([rules.get(t, FaultRule(t, "", 0.0)) for t in rule.tensiometers], state.faults)
    zone = state.zones.get(rule.subject, EMPTY)
    kind, _, key = rule.subject.partition("/")
    name = names.zone_title(key) if kind == "zone" else key
    fresh = {
        tensiometer: vote
        for tensiometer, vote in zone.votes.items()
        if now_us - vote.time_us <= rule.fresh_s * US_PER_S and tensiometer in trusted
    }
    enough = len(fresh) >= max(rule.min_trusted, least_votes(rule.way))
    votes_kpa = {tensiometer: vote.tension_kpa for tensiometer, vote in fresh.items()}
    tension_kpa = zone_kpa(rule.way, votes_kpa, rule.stations) if enough else None
    age_us = now_us - max(vote.time_us for vote in fresh.values()) if tension_kpa is not None else 0
    count = (len(trusted), len(rule.tensiometers))
    if zone.levels.get(AlarmKind.IRRIGATE_NOW, NORMAL).phase.is_active:
        return Standing(name, voice.say("irrigate now"), tension_kpa, True, count, age_us)
    if zone.levels.get(AlarmKind.IRRIGATE_PLAN, NORMAL).phase.is_active:
        return Standing(name, voice.say("plan an irrigation"), tension_kpa, True, count, age_us)
    if tension_kpa is None:
        words = voice.say(
            "unknown: {count} of {of} tensiometers have a word that can be believed",
            count=len(fresh),
            of=len(rule.tensiometers),
        )
        return Standing(name, words, None, False)
    return Standing(name, voice.say("enough water"), tension_kpa, False, count, age_us)


def sensor_standing(
    rule: FaultRule,
    newest: Latest | None,
    state: AlarmState,
    names: Names,
    now_us: int,
    voice: Voice | None = None,
) -> Standing:
    """How a tensiometer stands; without a voice in English."""
    voice = voice or Voice()
    place = names.places.get(rule.tensiometer)
    name = rule.tensiometer if place is None else f"{rule.tensiometer} ({place.depth_m * 100:.0f} cm)"
    faults = [fault_title(kind, voice) for kind in faults_of(rule, state.faults)]
    if newest is None:
        return Standing(name, voice.say("nothing heard in time yet"), None, True)
    if faults:
        own = any(key.subject == f"tensiometer/{rule.tensiometer}" for key in state.faults)
        return Standing(name, ", ".join(sorted(faults)), newest.tension_kpa, own)
    if not newest.flag.decides:
        words = voice.word(newest.cause.word or newest.flag.word)
        return Standing(name, words, newest.tension_kpa, newest.flag is Flag.FAIL)
    words = voice.say("reads well ({age})", age=ago(now_us - newest.time_us, voice))
    return Standing(name, words, newest.tension_kpa, False)


def ago(us: int, voice: Voice | None = None) -> str:
    """An age in words, without a voice in English.

    >>> ago(90 * 60_000_000), ago(30 * 3600_000_000), ago(72 * 3600_000_000)
    ('90 min ago', '30 h ago', '3 days ago')
    """
    minutes = max(0, us) // 60_000_000
    say = (voice or Voice()).say
    if minutes < 120:
        return say("{n} min ago", n=minutes)
    return say("{n} h ago", n=minutes // 60) if minutes < 48 * 60 else say("{n} days ago", n=minutes // 1440)
