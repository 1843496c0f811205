"""What is asked by the daemon's clock: who is silent, channels and sources as a whole, and whose clock is wrong."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from parchd.clock import US_PER_S
from parchd.diagnosis import device_clock
from parchd.diagnosis.findings import Fact
from parchd.diagnosis.hours import HOUR_US
from parchd.diagnosis.kinds import FindingKind
from parchd.diagnosis.setup import SILENT_INTERVALS, DiagnosisSetup, Instrument
from parchd.diagnosis.standing import DiagnosisState
from parchd.diagnosis.verdict import Case, Over, Verdict

BACK_NOTE = "silence.back_us"
LEAST_CHANNELS = 2
"""A source with one channel is as silent as its channel: one word for it is enough."""

Said = Iterator[tuple[str, Verdict]]


@dataclass(frozen=True, slots=True)
class Ear:
    """When one channel was heard, by the daemon's clock.

    Args:
        heard_us: last sample; 0: never.
        since_us: from when on it has been waited for: its last sample, the beginning of listening, or the moment when
            its source spoke again.
        earliest_us: heard before this, it is silent.
    """

    instrument: Instrument
    heard_us: int
    since_us: int
    earliest_us: int

    @property
    def interval_us(self) -> int:
        return round(self.instrument.interval_s * US_PER_S)

    @property
    def is_silent(self) -> bool:
        return self.since_us < self.earliest_us

    @property
    def speaks(self) -> bool:
        """Whether it was really heard: a restart alone makes nobody speak."""
        return self.heard_us >= self.earliest_us


def listen(
    state: DiagnosisState, setup: DiagnosisSetup, heard_us: Mapping[str, int], listening_since_us: int, now_us: int
) -> Said:
    """Yield subjects with what is to be said of them.

    A source is silent when all of its channels are, and then nothing is said of each of them. A channel is silent when
    it is and another one of its source was heard after it was due: so nobody names a channel first and its source soon
    after.
    """
    for name, instruments in setup.sources.items():
        for verdict in device_clock.judge(state, state.sources[name], now_us):
            yield f"source/{name}", verdict
        speaks = [heard_us.get(one.channel, 0) >= now_us - one.patience_us for one in instruments]
        if not all(speaks) or _anything_open(state, name, instruments):
            since_us = max(listening_since_us, _back_us(state, name))
            ears = [_ear(one, heard_us.get(one.channel, 0), since_us, now_us) for one in instruments]
            yield from _source(state, name, ears, now_us)


def _ear(instrument: Instrument, heard_us: int, since_us: int, now_us: int) -> Ear:
    return Ear(instrument, heard_us, max(heard_us, since_us), now_us - instrument.patience_us)


def _back_us(state: DiagnosisState, source: str) -> int:
    """When a source that had been silent spoke again: each of its channels gets its time from then on."""
    back_us = state.sources[source].notes.get(BACK_NOTE, 0)
    return back_us if isinstance(back_us, int) else 0


def _anything_open(state: DiagnosisState, name: str, instruments: Iterable[Instrument]) -> bool:
    return bool(state.findings) and (
        _is_open(state, FindingKind.SILENT_SOURCE, f"source/{name}")
        or any(_is_open(state, FindingKind.SILENT_CHANNEL, one.subject) for one in instruments)
    )


def _is_open(state: DiagnosisState, kind: FindingKind, subject: str) -> bool:
    return kind in state.findings.of(subject)


def _source(state: DiagnosisState, name: str, ears: list[Ear], now_us: int) -> Said:
    subject = f"source/{name}"
    down = len(ears) >= LEAST_CHANNELS and all(ear.is_silent for ear in ears)
    is_open = _is_open(state, FindingKind.SILENT_SOURCE, subject)
    if down and not is_open:
        for ear in ears:
            if _is_open(state, FindingKind.SILENT_CHANNEL, ear.instrument.subject):
                yield ear.instrument.subject, Over(FindingKind.SILENT_CHANNEL, now_us)
        yield subject, _case(FindingKind.SILENT_SOURCE, ears, now_us)
    elif is_open and any(ear.speaks for ear in ears):
        state.sources[name].notes[BACK_NOTE] = now_us
        state.changed.add(subject)
        yield subject, Over(FindingKind.SILENT_SOURCE, min(ear.heard_us for ear in ears if ear.speaks))
    elif not down:
        yield from _channels(state, ears, now_us)


def _channels(state: DiagnosisState, ears: list[Ear], now_us: int) -> Said:
    newest_us = max(ear.heard_us for ear in ears)
    for ear in ears:
        subject = ear.instrument.subject
        if _is_open(state, FindingKind.SILENT_CHANNEL, subject):
            if ear.speaks:
                yield subject, Over(FindingKind.SILENT_CHANNEL, ear.heard_us)
        elif ear.is_silent and (len(ears) < LEAST_CHANNELS or newest_us >= ear.since_us + ear.interval_us):
            yield subject, _case(FindingKind.SILENT_CHANNEL, [ear], now_us)


def _case(kind: FindingKind, ears: list[Ear], now_us: int) -> Case:
    start_us = max(ear.since_us for ear in ears)
    heard_us = max(ear.heard_us for ear in ears)
    last = Fact("last heard", heard_us, "time") if heard_us else Fact("last heard", "never")
    facts = (
        last,
        Fact("silent for", (now_us - start_us) / HOUR_US, "h"),
        Fact("usual interval", min(ear.instrument.interval_s for ear in ears) / 3600.0, "h"),
        Fact("channels", len(ears)),
    )
    others = tuple(ear.instrument.name for ear in ears) if kind is FindingKind.SILENT_SOURCE else ()
    return Case(kind, start_us, 0.99, facts, others)


__all__ = ["LEAST_CHANNELS", "SILENT_INTERVALS", "listen"]
