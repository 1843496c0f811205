"""What the diagnosis says to people: findings, events, consequences, confidence."""

from collections.abc import Mapping
from types import MappingProxyType

from parchd.contract import Flag
from parchd.diagnosis.facts import fact_words
from parchd.diagnosis.kinds import CONSEQUENCES, EventKind, FindingKind, Trust
from parchd.diagnosis.sayings import STAR, EventWords, FindingWords, spoken
from parchd.diagnosis.words_tube import TUBE_WORDS
from parchd.diagnosis.words_wire import WIRE_WORDS
from parchd.words import Voice, text

_ALL = {**TUBE_WORDS, **WIRE_WORDS}

WORDS: Mapping[FindingKind, FindingWords] = MappingProxyType({kind: _ALL[kind] for kind in FindingKind})

EVENT_WORDS: Mapping[EventKind, EventWords] = MappingProxyType(
    {
        EventKind.WETTING: EventWords("wetting", "Irrigation or rain reached the cups of the station."),
        EventKind.SERVICE: EventWords("service", "Somebody worked on it: most channels dipped at the same time."),
        EventKind.SATURATION: EventWords("saturation", "The soil around the cup held all the water it can."),
        EventKind.POSITIVE_PRESSURE: EventWords("free water", "Free water stood above the cup."),
    }
)

_FLAG_WORDS = {
    Flag.FAIL: text(
        "From where the evidence begins its readings fail: they are no measurement of the soil. They neither raise nor "
        "clear an irrigation alarm; one that is raised stays."
    ),
    Flag.SUSPECT: text(
        "From where the evidence begins its readings are suspect: they are not to be acted on. They neither raise nor "
        "clear an irrigation alarm; one that is raised stays."
    ),
    Flag.PASS: text("Its readings keep the flags that they have."),
}


def confidence_words(confidence: float, voice: Voice | None = None) -> str:
    """Say how sure it is, 0 to 1.

    Args:
        voice: ``None``: English.

    >>> confidence_words(0.97), confidence_words(0.8), confidence_words(0.5)
    ('nearly certain', 'likely', 'possible')
    """
    voice = voice or Voice()
    if confidence >= 0.95:
        return voice.say("nearly certain")
    return voice.say("likely" if confidence >= 0.75 else "possible")


def consequence_words(kind: FindingKind, voice: Voice | None = None) -> str:
    """Say what a finding does to readings and alarms.

    Args:
        voice: ``None``: English.

    >>> consequence_words(FindingKind.FROST_RISK)
    'Its readings keep the flags that they have.'
    """
    return (voice or Voice()).say(_FLAG_WORDS[CONSEQUENCES[kind].flag])


def trust_words(kind: FindingKind) -> str:
    """Say in a word or two what brings trust back.

    >>> trust_words(FindingKind.LOST_WATER), trust_words(FindingKind.FROZEN)
    ('a service that is written down, nothing else', 'good readings, or a service that is written down')
    """
    only = CONSEQUENCES[kind].trust is Trust.SERVICE
    return (
        "a service that is written down, nothing else" if only else "good readings, or a service that is written down"
    )


__all__ = [
    "EVENT_WORDS", "STAR", "WORDS", "EventWords", "FindingWords", "confidence_words", "consequence_words", "fact_words",
    "spoken", "trust_words",
]  # fmt: skip
