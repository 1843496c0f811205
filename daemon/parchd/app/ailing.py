"""Tensiometers and sources that need a hand: what is wrong, and since when."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from parchd.alarms.advice import FAULT_WORDS
from parchd.alarms.condition import Condition
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import FINDING_OF
from parchd.alarms.names import Names, thing_name
from parchd.alarms.rules import AlarmKind
from parchd.alarms.system_words import SYSTEM_WORDS
from parchd.contract import JsonValue
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.words import WORDS, confidence_words
from parchd.words import Voice

OF_THE_GROUND = ("zone/", "rule/")
"""Subjects of alarms that are no faults."""


@dataclass(frozen=True, slots=True)
class Ailing:
    """One thing that is wrong.

    Args:
        key: the alarm about it.
        name: the tensiometer with its depth, or the source.
        words: what is wrong, and how sure that is.
        since_us: where the evidence begins.
        confidence: of a finding; ``None``: it is no matter of judgement.
    """

    key: AlarmKey
    name: str
    words: str
    since_us: int
    confidence: float | None = None

    def row(self, voice: Voice) -> tuple[str, str, str]:
        """Name, what is wrong, and since when, for a table."""
        return self.name, self.words, voice.say("since {time}", time=voice.moment(self.since_us))

    def data(self) -> JsonValue:
        """The same for programs."""
        return {
            "alarm": self.key.kind.value,
            "subject": self.key.subject,
            "since_us": self.since_us,
            "confidence": self.confidence,
        }


def ailing(
    faults: Mapping[AlarmKey, Condition], findings: Iterable[Finding], names: Names, voice: Voice | None = None
) -> tuple[Ailing, ...]:
    """List active faults of tensiometers, sources and the daemon itself, the oldest first.

    Args:
        findings: those that hold.
        voice: ``None``: English and the time of the site.
    """
    voice = voice or names.voice
    known = {finding.key: finding for finding in findings}
    theirs = (
        (key, one) for key, one in faults.items() if one.phase.is_active and not key.subject.startswith(OF_THE_GROUND)
    )
    found = (_ailing(key, one, known, names, voice) for key, one in theirs)
    return tuple(sorted(found, key=lambda one: (one.since_us, one.key)))


def fault_title(kind: AlarmKind, voice: Voice | None = None) -> str:
    """What is wrong, in a word or two; without a voice in English.

    >>> fault_title(AlarmKind.LOST_WATER), fault_title(AlarmKind.SILENT)
    ('lost water column', 'no data')
    """
    words = WORDS[FINDING_OF[kind]].title if kind in FINDING_OF else (FAULT_WORDS | SYSTEM_WORDS)[kind].subject
    return (voice or Voice()).say(words)


def _ailing(
    key: AlarmKey, condition: Condition, known: Mapping[FindingKey, Finding], names: Names, voice: Voice
) -> Ailing:
    place = names.places.get(key.name)
    name = thing_name(key, voice)
    if place is not None and key.subject.startswith("tensiometer/"):
        name = f"{key.name} ({place.depth_m * 100:.0f} cm)"
    finding = known.get(FindingKey(FINDING_OF[key.kind], key.subject)) if key.kind in FINDING_OF else None
    title = fault_title(key.kind, voice)
    if finding is None:
        return Ailing(key, name, title, condition.raised_us or condition.since_us)
    words = f"{title} ({confidence_words(finding.confidence, voice)})"
    return Ailing(key, name, words, finding.start_us, finding.confidence)
