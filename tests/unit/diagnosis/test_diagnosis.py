"""How the diagnosis puts together what its detectors say."""

import random
from collections.abc import Iterable, Iterator
from dataclasses import replace

import pytest

from parchd.contract import Cause, Flag, Reading
from parchd.diagnosis import diagnosis as module
from parchd.diagnosis.detectors import SourceWatch, Watch
from parchd.diagnosis.diagnosis import Diagnosis
from parchd.diagnosis.findings import NOTHING, End, Finding, FindingKey
from parchd.diagnosis.hours import HOUR_US, hour_of
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind
from parchd.diagnosis.ranking import SUPERSEDES, YIELDS_TO
from parchd.diagnosis.setup import DiagnosisSetup, Instrument
from parchd.diagnosis.standing import DiagnosisState
from parchd.diagnosis.verdict import Case, Look, Over, SourceLook, Verdict
from parchd.testing.diagnosing import BEGIN_US, Watched, hours_us, instrument
from parchd.testing.site import reading

ONE = "bus1/north-30"
FIRST = BEGIN_US // HOUR_US


class Said:
    """A detector that says what a test wants, at hours after the beginning."""

    def __init__(self, *said: tuple[int, str, Verdict]) -> None:
        self._said = said
        self.looks: list[tuple[int, str]] = []

    def __call__(self, look: Look) -> Iterator[Verdict]:
        self.looks.append((look.hour - FIRST, look.instrument.name))
        for hour, name, verdict in self._said:
            if (look.hour - FIRST, look.instrument.name) == (hour, name):
                yield verdict


class Recorder(Watched):
    """Keeps readings and judges nothing."""

    def __init__(self, *instruments: Instrument) -> None:
        super().__init__(*instruments)
        self.readings: list[Reading] = []

    def take(self, readings: Iterable[Reading]) -> None:
        self.readings.extend(readings)


def case(kind: FindingKind, start_h: float = 0.0) -> Case:
    return Case(kind, hours_us(start_h), 0.9)


def watched(monkeypatch: pytest.MonkeyPatch, said: Said, *names: str) -> Watched:
    monkeypatch.setattr(module, "SOURCE_WATCHES", ())
    monkeypatch.setattr(module, "WATCHES", (Watch(said),))
    return Watched(*(instrument(name) for name in names or ("north-30",)))


def still(h: float) -> float:
    return 20.0


def told(findings: Iterable[Finding]) -> list[tuple[FindingKind, End | None]]:
    return [(finding.key.kind, finding.end) for finding in findings]


def test_a_finding_is_told_once_and_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    said = Said(*((hour, "north-30", case(FindingKind.LEVEL_SHIFT)) for hour in (5, 6, 7)))
    farm = watched(monkeypatch, said).run(10, {ONE: still})

    assert told(farm.findings) == [(FindingKind.LEVEL_SHIFT, None)]
    assert farm.diagnosis.cause_of(farm.state, ONE) is Cause.DOUBTED


def test_an_hour_is_looked_at_once_it_has_closed_ten_minutes_later(monkeypatch: pytest.MonkeyPatch) -> None:
    farm = watched(monkeypatch, said := Said())
    farm.run(2.0, {ONE: still})
    assert [hour for hour, _ in said.looks] == [0]
    farm.run(0.25, {ONE: still})
    assert [hour for hour, _ in said.looks] == [0]
    farm.run(0.25, {ONE: still})
    assert [hour for hour, _ in said.looks] == [0, 1]


def test_a_source_that_reads_once_an_hour_is_looked_at_without_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SOURCE_WATCHES", ())
    monkeypatch.setattr(module, "WATCHES", (Watch(said := Said()),))
    Watched(instrument("north-30", interval_s=3600.0)).run(3, {ONE: still})

    assert [hour for hour, _ in said.looks] == [0, 1]


def test_evidence_that_is_gone_ends_a_finding(monkeypatch: pytest.MonkeyPatch) -> None:
    over = Over(FindingKind.LEVEL_SHIFT, hours_us(7))
    said = Said((5, "north-30", case(FindingKind.LEVEL_SHIFT)), (8, "north-30", over))
    farm = watched(monkeypatch, said).run(12, {ONE: still})

    assert told(farm.findings) == [(FindingKind.LEVEL_SHIFT, None), (FindingKind.LEVEL_SHIFT, End.RECOVERED)]
    assert farm.findings[-1].ended_us == hours_us(7)
    assert farm.diagnosis.cause_of(farm.state, ONE) is Cause.NONE


def test_a_stronger_finding_ends_the_weaker_one_before_it_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    said = Said((5, "north-30", case(FindingKind.LEVEL_SHIFT)), (8, "north-30", case(FindingKind.LOST_WATER)))
    farm = watched(monkeypatch, said).run(12, {ONE: still})

    assert told(farm.findings) == [
        (FindingKind.LEVEL_SHIFT, None), (FindingKind.LEVEL_SHIFT, End.REFINED), (FindingKind.LOST_WATER, None),
    ]  # fmt: skip
    assert farm.diagnosis.cause_of(farm.state, ONE) is Cause.CONDEMNED


@pytest.mark.parametrize(
    ("kind", "ends"),
    [(FindingKind.LEVEL_SHIFT, []), (FindingKind.POOR_CONTACT, [(FindingKind.POOR_CONTACT, End.REFINED)])],
)
def test_what_happens_to_a_tube_weeks_later_ends_no_level_that_is_off(
    kind: FindingKind, ends: list[tuple[FindingKind, End | None]], monkeypatch: pytest.MonkeyPatch
) -> None:
    late = 15 * 24 + 5
    said = Said((5, "north-30", case(kind, 2)), (late, "north-30", case(FindingKind.AIR_ENTRY, late - 1)))
    farm = watched(monkeypatch, said).run(late + 4, {ONE: still})

    assert told(farm.findings) == [(kind, None), *ends, (FindingKind.AIR_ENTRY, None)]


def test_a_weaker_finding_does_not_begin_beside_a_stronger_one(monkeypatch: pytest.MonkeyPatch) -> None:
    said = Said((5, "north-30", case(FindingKind.LOST_WATER)), (8, "north-30", case(FindingKind.LEVEL_SHIFT)))
    farm = watched(monkeypatch, said).run(12, {ONE: still})

    assert told(farm.findings) == [(FindingKind.LOST_WATER, None)]


def test_no_two_kinds_keep_each_other_from_beginning() -> None:
    for kind, weaker in SUPERSEDES.items():
        assert kind not in weaker
        for weak in weaker:
            mutual = kind in SUPERSEDES.get(weak, ())
            assert (kind in YIELDS_TO.get(weak, ())) is not mutual


def test_a_dismissed_finding_does_not_come_back_on_the_same_evidence(monkeypatch: pytest.MonkeyPatch) -> None:
    kind = FindingKind.LEVEL_SHIFT
    said = Said(
        (5, "north-30", case(kind, 1)), (9, "north-30", case(kind, 1)), (20, "north-30", case(kind, 15)),
    )  # fmt: skip
    farm = watched(monkeypatch, said).run(7, {ONE: still})
    farm.keep(farm.diagnosis.dismiss(farm.state, FindingKey(kind, "tensiometer/north-30"), hours_us(7)))
    assert farm.findings[-1].ended_us == farm.findings[-1].start_us

    farm.run(5, {ONE: still})
    assert farm.still_open() == set()
    farm.run(14, {ONE: still})
    assert farm.still_open() == {kind}


def test_dismissing_what_is_not_there_does_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    farm = watched(monkeypatch, Said())

    assert farm.diagnosis.dismiss(farm.state, FindingKey(FindingKind.FROZEN, "tensiometer/x"), 5) is NOTHING


def test_a_service_ends_all_findings_of_its_tensiometer_and_of_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    said = Said(*((5, name, case(FindingKind.LOST_WATER)) for name in ("north-30", "north-60")))
    farm = watched(monkeypatch, said, "north-30", "north-60")
    farm.run(8, {ONE: still, "bus1/north-60": still})

    outcome = farm.diagnosis.serviced(farm.state, "north-30", hours_us(8))

    assert [(f.key.name, f.end) for f in outcome.findings] == [("north-30", End.SERVICED)]
    assert [key.name for key in farm.state.findings] == ["north-60"]


def test_nothing_before_a_service_is_looked_at_any_more(monkeypatch: pytest.MonkeyPatch) -> None:
    pasts: list[list[float]] = []

    def detector(look: Look) -> Iterator[Verdict]:
        pasts.append(look.past("mean_kpa", 6))
        yield from ()

    farm = watched(monkeypatch, Said())
    monkeypatch.setattr(module, "WATCHES", (Watch(detector),))
    farm.run(8, {ONE: still})
    farm.diagnosis.serviced(farm.state, "north-30", hours_us(8))
    farm.run(5, {ONE: still})

    assert [str(value) for value in pasts[-1]] == ["nan"] * 2 + ["20.0"] * 4


def test_findings_of_a_source_are_kept_apart_from_those_of_its_tensiometers(monkeypatch: pytest.MonkeyPatch) -> None:
    def detector(look: SourceLook) -> Iterator[Verdict]:
        yield case(FindingKind.NOISY_SUPPLY)

    monkeypatch.setattr(module, "WATCHES", ())
    monkeypatch.setattr(module, "SOURCE_WATCHES", (SourceWatch(detector),))
    farm = Watched(instrument("north-30"), instrument("north-60"))
    farm.run(5, {ONE: still, "bus1/north-60": still})

    assert [key.subject for key in farm.state.findings] == ["source/bus1"]
    assert farm.diagnosis.cause_of(farm.state, ONE) is Cause.NONE


def test_readings_that_come_late_or_twice_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    farm = watched(monkeypatch, Said()).run(30, {ONE: lambda h: 20.0 + h})
    before = farm.standing(ONE).hours.column("mean_kpa", FIRST, FIRST + 30)

    recorder = Recorder(instrument("north-30"))
    recorder.run(5, {ONE: lambda _: 90.0})
    farm.take(recorder.readings)
    farm.run(3, {ONE: lambda h: 20.0 + h})

    assert farm.standing(ONE).hours.column("mean_kpa", FIRST, FIRST + 29) == before[:29]


def test_cutting_the_readings_into_batches_changes_nothing() -> None:
    def curves(h: float) -> float:
        return 30.0 + h / 6.0 if h < 60 else max(-6.0, 40.0 - 20.0 * (h - 60.0))

    names = ("north-30", "north-60")
    recorder = Recorder(*(instrument(name, head_kpa=6.0) for name in names))
    recorder.run(120, {ONE: curves, "bus1/north-60": lambda h: 20.0 + h / 12.0})
    readings = recorder.readings

    def findings(cuts: list[int]) -> list[Finding]:
        diagnosis = Diagnosis(recorder.setup)
        state = diagnosis.begin(DiagnosisState())
        found: list[Finding] = []
        for begin, end in zip([0, *cuts], [*cuts, len(readings)], strict=True):
            found += diagnosis.take(state, readings[begin:end]).findings
        return found

    whole = findings([])
    assert told(whole) == [(FindingKind.LOST_WATER, None)]
    chance = random.Random(5)
    for _ in range(5):
        assert findings(sorted(chance.sample(range(len(readings)), 40))) == whole


def test_neighbours_are_told_apart_by_zone_station_depth_and_source() -> None:
    of = instrument("north-30")
    others = [
        instrument("north-31", station="post 2"), instrument("north-60"), instrument("north-90"),
        instrument("north-61", station="post 2"), instrument("south-30"), instrument("south-31", source="bus2"),
    ]  # fmt: skip
    diagnosis = Diagnosis(DiagnosisSetup((of, *others)))
    state = diagnosis.begin(DiagnosisState())

    found = diagnosis.neighbours(state, of)

    names = {part: [s.instrument.name for s in getattr(found, part)] for part in ("level", "station", "zone", "source")}
    assert names == {
        "level": ["north-31"],
        "station": ["north-60", "north-90"],
        "zone": ["north-31", "north-60", "north-90", "north-61"],
        "source": ["north-31", "north-60", "north-90", "north-61", "south-30"],
    }


def test_a_new_setup_forgets_what_is_gone_and_keeps_what_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    said = Said(*((5, name, case(FindingKind.LOST_WATER)) for name in ("north-30", "north-60")))
    farm = watched(monkeypatch, said, "north-30", "north-60").run(8, {ONE: still, "bus1/north-60": still})

    after = Diagnosis(DiagnosisSetup((instrument("north-30"), instrument("north-90"))))
    after.begin(farm.state)

    assert [key.name for key in farm.state.findings] == ["north-30"]
    assert len(farm.standing(ONE).hours) == 7
    assert set(farm.state.standings) == {ONE, "bus1/north-90"}


def test_every_kind_has_a_consequence() -> None:
    assert set(CONSEQUENCES) == set(FindingKind)
    assert {c.flag for c in CONSEQUENCES.values()} == {Flag.PASS, Flag.SUSPECT, Flag.FAIL}


def test_another_calibration_or_another_height_of_the_water_is_no_shift_and_everything_is_learnt_anew() -> None:
    def recalibrated(h: float) -> Reading:
        label, kpa = ("2026-05-01", 20.0) if h < 100.0 else ("2026-06-01", 26.0)
        return replace(reading("bus1/north-20", 0, kpa + h / 50.0), calibration=label)

    farm = Watched(instrument("north-20")).run(160, {"bus1/north-20": recalibrated})
    standing = farm.standing("bus1/north-20")
    assert standing.since == hour_of(hours_us(100)) + 1
    assert farm.opened() == []

    lifted = DiagnosisSetup((instrument("north-20", head_kpa=5.0),), None, "Europe/Berlin")
    farm.diagnosis = Diagnosis(lifted)
    farm.diagnosis.begin(farm.state)
    assert standing.since == hour_of(hours_us(159.75)) + 1
    farm.diagnosis.begin(farm.state)
    assert standing.since == hour_of(hours_us(159.75)) + 1
