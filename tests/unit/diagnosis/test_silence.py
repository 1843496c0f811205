"""Who is silent, by the daemon's clock."""

from parchd.diagnosis.findings import End
from parchd.diagnosis.kinds import FindingKind
from parchd.testing.diagnosing import Watched, hours_us, instrument

NAMES = ("north-20", "north-40", "north-60")
CHANNELS = [f"bus1/{name}" for name in NAMES]
MINUTE_H = 1.0 / 60.0


def farm() -> Watched:
    return Watched(*(instrument(name) for name in NAMES))


def heard(*hours: float) -> dict[str, int]:
    return {channel: hours_us(at) for channel, at in zip(CHANNELS, hours, strict=False)}


def test_a_channel_is_silent_after_three_of_its_intervals() -> None:
    seen = farm()
    seen.listen(heard(10.0, 12.0, 12.0), hours_us(0), hours_us(10.7))
    assert seen.opened() == []

    seen.listen(heard(10.0, 12.0, 12.0), hours_us(0), hours_us(12.1))

    (finding,) = seen.findings
    assert (finding.key.kind, finding.key.name) == (FindingKind.SILENT_CHANNEL, "north-20")
    assert finding.start_us == hours_us(10.0)


def test_it_ends_when_the_channel_is_heard_again() -> None:
    seen = farm()
    seen.listen(heard(10.0, 12.0, 12.0), hours_us(0), hours_us(12.1))
    seen.listen(heard(13.0, 13.0, 13.0), hours_us(0), hours_us(13.1))

    (ended,) = seen.ended()
    assert (ended.end, ended.ended_us) == (End.RECOVERED, hours_us(13.0))


def test_a_source_whose_channels_are_all_silent_is_one_finding() -> None:
    seen = farm()
    for minute in range(600, 700):
        seen.listen(heard(10.0, 10.01, 10.02), hours_us(0), hours_us(minute * MINUTE_H))

    assert seen.opened() == [(FindingKind.SILENT_SOURCE, "bus1")]
    assert seen.findings[0].others == NAMES


def test_channels_of_different_intervals_do_not_go_silent_one_by_one_when_their_source_does() -> None:
    slow = instrument("north-60", interval_s=3600.0)
    seen = Watched(instrument("north-20"), slow)
    for minute in range(600, 900):
        heard_us = {"bus1/north-20": hours_us(10.0), "bus1/north-60": hours_us(10.0)}
        seen.listen(heard_us, hours_us(0), hours_us(minute * MINUTE_H))

    assert seen.opened() == [(FindingKind.SILENT_SOURCE, "bus1")]


def test_a_source_that_speaks_again_ends_its_silence_and_leaves_the_channel_that_does_not() -> None:
    seen = farm()
    seen.listen(heard(10.0, 10.0, 10.0), hours_us(0), hours_us(12.0))
    for quarter in range(48, 60):
        at = quarter / 4.0
        seen.listen(heard(10.0, at, at), hours_us(0), hours_us(at + 0.01))

    assert [one.key.kind for one in seen.ended()] == [FindingKind.SILENT_SOURCE]
    assert seen.opened()[1:] == [(FindingKind.SILENT_CHANNEL, "north-20")]


def test_nobody_is_silent_for_longer_than_the_daemon_has_listened() -> None:
    seen = farm()
    seen.listen({}, hours_us(100.0), hours_us(100.5))
    assert seen.opened() == []

    seen.listen({}, hours_us(100.0), hours_us(101.0))
    assert seen.opened() == [(FindingKind.SILENT_SOURCE, "bus1")]


def test_a_restart_alone_ends_no_silence() -> None:
    seen = farm()
    seen.listen(heard(10.0, 12.0, 12.0), hours_us(0), hours_us(12.1))
    seen.listen(heard(10.0, 12.2, 12.2), hours_us(12.2), hours_us(12.3))

    assert seen.ended() == []


def test_a_source_of_one_channel_has_a_silent_channel() -> None:
    seen = Watched(instrument("creek-30", source="bus2"))
    seen.listen({"bus2/creek-30": hours_us(1.0)}, hours_us(0), hours_us(2.0))

    assert seen.opened() == [(FindingKind.SILENT_CHANNEL, "creek-30")]


def test_each_channel_of_a_source_that_speaks_again_gets_its_time_from_then_on() -> None:
    seen = farm()
    seen.listen(heard(10.0, 10.0, 10.0), hours_us(0), hours_us(12.0))
    assert seen.opened() == [(FindingKind.SILENT_SOURCE, "bus1")]

    seen.listen(heard(20.0, 10.0, 10.0), hours_us(0), hours_us(20.0))
    seen.listen(heard(20.5, 10.0, 10.0), hours_us(0), hours_us(20.7))
    assert seen.still_open() == set()

    seen.listen(heard(20.75, 10.0, 10.0), hours_us(0), hours_us(20.8))
    assert seen.opened(FindingKind.SILENT_CHANNEL) == [
        (FindingKind.SILENT_CHANNEL, "north-40"), (FindingKind.SILENT_CHANNEL, "north-60"),
    ]  # fmt: skip


def test_silence_takes_as_many_intervals_as_the_tensiometer_is_set_to() -> None:
    seen = Watched(*(instrument(name, silent_intervals=10.0) for name in NAMES))
    seen.listen(heard(10.0, 12.0, 12.0), hours_us(0), hours_us(12.4))
    assert seen.opened() == []

    seen.listen(heard(10.0, 12.0, 12.4), hours_us(0), hours_us(12.6))
    assert seen.opened() == [(FindingKind.SILENT_CHANNEL, "north-20")]
