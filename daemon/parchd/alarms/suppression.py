"""Which alarms are meaningless while another condition holds: suppression by design (IEC 62682, ISA-18.2).

What is suppressed is judged and kept all the same, and shown with its reason. An irrigation alarm of a zone is never
suppressed: no fault hides that the ground is dry. Nor is one of a tensiometer that was raised before anything spoke
against it, or for whose zone nobody else can speak.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from parchd.alarms.believed import believed, takes_away_trust
from parchd.alarms.book import AlarmState
from parchd.alarms.condition import NORMAL, Phase
from parchd.alarms.events import AlarmKey
from parchd.alarms.findings import ALARM_OF
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rule_judging import rests_on
from parchd.alarms.rules import DISK, AlarmSetup, FaultRule
from parchd.contract import Place
from parchd.diagnosis.findings import Finding
from parchd.diagnosis.words import WORDS

Reasons = dict[AlarmKey, str]
"""Why each of these alarms is suppressed."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is known when the question is asked.

    Args:
        setup, state: of the alarms, as they are judged now.
        places: by tensiometer.
        findings: those that hold.
        served: tensiometers that somebody works on, or that have not settled since.
        now_us: when it is asked.
        reached_us: when each source was there again, after it could not be reached or was silent.
    """

    setup: AlarmSetup
    state: AlarmState
    places: Mapping[str, Place]
    findings: Collection[Finding] = ()
    served: Collection[str] = ()
    now_us: int = 0
    reached_us: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Doubt:
    """What speaks against a tensiometer: since when, and what it is."""

    since_us: int
    title: str


def suppressed(scene: Scene) -> Reasons:
    """Give the alarms that are on and to be suppressed, each with its reason."""
    conditions = scene.state.faults
    if not conditions and not scene.findings:
        return {}
    reasons: Reasons = {}
    for key, why in (*_silences(scene), *_full(scene), *_served(scene)):
        if key not in reasons and conditions.get(key, NORMAL).phase.is_active:
            reasons[key] = why
    doubts = _doubts(scene.findings)
    if doubts:
        reasons |= dict(_own_irrigation(scene, doubts))
        reasons |= dict(_rules(scene, doubts))
    return reasons


def _silences(scene: Scene) -> Iterator[tuple[AlarmKey, str]]:
    """A source that cannot be reached explains its silence; one that is down or silent, that of its tensiometers.

    Once it is there again, each gets its intervals anew.
    """
    conditions = scene.state.faults
    for rule in scene.setup.faults:
        name = rule.channel.partition("/")[0]
        own = AlarmKey(AlarmKind.SILENT, f"tensiometer/{rule.tensiometer}")
        silent = _of_source(AlarmKind.SILENT_SOURCE, name)
        if conditions.get(_of_source(AlarmKind.SOURCE_DOWN, name), NORMAL).phase is not Phase.NORMAL:
            yield silent, f"source {name} cannot be reached"
            yield own, f"source {name} cannot be reached"
            continue
        if conditions.get(silent, NORMAL).phase.is_active:
            yield own, f"source {name} is silent"
        back_us = scene.reached_us.get(name)
        if back_us is not None and 0 <= scene.now_us - back_us <= rule.patience_us:
            yield silent, f"source {name} has only just come back"
            yield own, f"source {name} has only just come back"


def _of_source(kind: AlarmKind, name: str) -> AlarmKey:
    return AlarmKey(kind, f"source/{name}")


def _full(scene: Scene) -> Iterator[tuple[AlarmKey, str]]:
    if scene.state.faults.get(AlarmKey(AlarmKind.DISK_FULL, DISK), NORMAL).phase.is_active:
        yield AlarmKey(AlarmKind.DISK_FILLING, DISK), "the disk is full already"


def _served(scene: Scene) -> Iterator[tuple[AlarmKey, str]]:
    """Work on a tensiometer brings about what looks like faults, and so does the time until it has settled."""
    for key in scene.state.faults if scene.served else ():
        if key.subject.startswith("tensiometer/") and key.name in scene.served:
            yield key, f"a service of {key.name} was written down; it has not settled yet"


def _doubts(findings: Iterable[Finding]) -> dict[str, Doubt]:
    """The earliest doubt about each tensiometer."""
    doubts: dict[str, Doubt] = {}
    for finding in findings:
        kind, name = finding.key.kind, finding.key.name
        if kind not in ALARM_OF or not finding.key.subject.startswith("tensiometer/"):
            continue
        known = doubts.get(name)
        if takes_away_trust(ALARM_OF[kind]) and (known is None or finding.start_us < known.since_us):
            doubts[name] = Doubt(finding.start_us, WORDS[kind].title)
    return doubts


def _own_irrigation(scene: Scene, doubts: Mapping[str, Doubt]) -> Iterator[tuple[AlarmKey, str]]:
    for rule in scene.setup.irrigation:
        thing, _, name = rule.subject.partition("/")
        doubt, zone = doubts.get(name), scene.state.zones.get(rule.subject)
        if thing != "tensiometer" or doubt is None or zone is None:
            continue
        speakers = _speakers(scene, name)
        for kind, condition in zone.levels.items():
            raised_us = condition.raised_us
            if speakers and raised_us is not None and raised_us >= doubt.since_us:
                yield AlarmKey(kind, rule.subject), f"{_doubted(name, doubt)}; {_speak(speakers)} for the zone"


def _rules(scene: Scene, doubts: Mapping[str, Doubt]) -> Iterator[tuple[AlarmKey, str]]:
    for rule in scene.setup.rules:
        if scene.state.faults.get(rule.key, NORMAL).phase.is_active:
            since_us = {name: doubt.since_us for name, doubt in doubts.items()}
            name = rests_on(rule, scene.state.rules, since_us)
            if name is not None:
                yield rule.key, f"it rests on {_doubted(name, doubts[name])}"


def _speakers(scene: Scene, name: str) -> list[str]:
    """Who else of its zone can be believed."""
    zone = scene.places[name].zone if name in scene.places else None
    others: list[FaultRule] = [
        rule
        for rule in scene.setup.faults
        if rule.tensiometer != name and rule.tensiometer in scene.places
        and scene.places[rule.tensiometer].zone == zone
    ]  # fmt: skip
    return believed(others, scene.state.faults)


def _doubted(name: str, doubt: Doubt) -> str:
    return f"{name}, which cannot be believed ({doubt.title})"


def _speak(names: list[str]) -> str:
    return f"{names[0]} speaks" if len(names) == 1 else f"{', '.join(names)} speak"
