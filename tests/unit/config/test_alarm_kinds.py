"""``[alarms.KIND]``: what may be changed, and what is refused."""

import pytest

from parchd.alarms.kinds import DELAYED, USUAL, AlarmKind
from parchd.alarms.rules import FAULT_DELAYS, Delays, DiskLimits
from parchd.contract import Priority
from parchd.testing.config_folder import BASE, ConfigFolder, line_of


def with_kind(kind: str, *lines: str) -> str:
    return "\n".join((BASE, f"[alarms.{kind}]", *lines, ""))


def test_without_tables_every_kind_is_as_usual(config: ConfigFolder) -> None:
    assert config.load(BASE).alarms.kinds == USUAL


def test_all_of_a_kind_can_be_set(config: ConfigFolder) -> None:
    text = with_kind(
        "source-down", 'priority = "high"', "on_delay_min = 2.5", "off_delay_min = 5", "repeat_h = 6",
        'out_of_service = "the mast is being moved"',
    )  # fmt: skip
    found = config.load(text).alarms.kinds[AlarmKind.SOURCE_DOWN]
    assert (found.priority, found.on_s, found.off_s, found.repeat_s) == (Priority.HIGH, 150.0, 300.0, 21_600.0)
    assert found.out_of_service == "the mast is being moved"


def test_what_is_not_set_stays_as_usual(config: ConfigFolder) -> None:
    kinds = config.load(with_kind("sink-down", "repeat_h = 0")).alarms.kinds
    assert (kinds[AlarmKind.SINK_DOWN].on_s, kinds[AlarmKind.SINK_DOWN].repeat_s) == (1800.0, 0.0)
    assert kinds[AlarmKind.SINK_DOWN].priority is USUAL[AlarmKind.SINK_DOWN].priority
    assert kinds[AlarmKind.SILENT] == USUAL[AlarmKind.SILENT]


def test_delays_of_a_fault_come_on_top_of_its_three_readings(config: ConfigFolder) -> None:
    text = with_kind("electrical", "on_delay_min = 10", "off_delay_min = 20")
    (rule,) = config.load(text).alarms.faults
    assert rule.by_kind == {AlarmKind.ELECTRICAL: Delays(600.0, 1200.0, 3, 3)}
    assert rule.delays == FAULT_DELAYS


def test_a_kind_that_is_not_there_is_refused_with_a_guess(config: ConfigFolder) -> None:
    text = with_kind("sourcedown", 'priority = "low"')
    problem = config.problem(text)
    assert (problem.line, problem.key) == (line_of("[alarms.sourcedown]", text), "alarms.sourcedown")
    assert problem.hint == "did you mean source-down?"


@pytest.mark.parametrize("kind", [kind for kind in AlarmKind if kind not in DELAYED])
def test_a_delay_is_refused_where_the_kind_has_it_elsewhere_or_none(config: ConfigFolder, kind: AlarmKind) -> None:
    text = with_kind(kind, "on_delay_min = 5")
    problem = config.problem(text)
    assert (problem.key, problem.line) == (f"alarms.{kind}.on_delay_min", line_of("on_delay_min = 5", text))
    assert problem.expected


@pytest.mark.parametrize(
    ("line", "key", "expected"),
    [
        ('priority = "urgent"', "priority", "one of low, medium, high"),
        ("repeat_h = -1", "repeat_h", "0 or more"),
        ('out_of_service = ""', "out_of_service", "one line of text, 1 to 120 characters"),
        ("latch = true", "latch", "one of off_delay_min, on_delay_min, out_of_service, priority, repeat_h"),
    ],
)
def test_what_is_wrong_in_it_is_named(config: ConfigFolder, line: str, key: str, expected: str) -> None:
    problem = config.problem(with_kind("silent", line))
    assert (problem.key, problem.expected) == (f"alarms.silent.{key}", expected)


def test_a_variable_may_change_a_kind_that_no_file_names(config: ConfigFolder) -> None:
    config.environ["PARCHD_ALARMS__ABOVE_USABLE_LIMIT__PRIORITY"] = "high"
    assert config.load(BASE).alarms.kinds[AlarmKind.ABOVE_LIMIT].priority is Priority.HIGH


def test_every_source_sink_and_notifier_is_watched_and_so_are_disk_and_clock(config: ConfigFolder) -> None:
    sink = '[sinks.charts]\nkind = "influxdb"\nurl = "http://localhost:8086"\norg = "farm"\nbucket = "soil"\n'
    found = config.load("\n".join((BASE, sink))).alarms.health
    assert [(rule.kind.value, rule.subject, rule.delays.on_s) for rule in found] == [
        ("source-down", "source/bus1", 600.0), ("sink-down", "sink/charts", 1800.0),
        ("notifier-down", "notifier/hook", 1800.0), ("disk-filling", "daemon/disk", 0.0),
        ("disk-full", "daemon/disk", 0.0), ("clock-untrusted", "daemon/clock", 900.0),
    ]  # fmt: skip


def test_delays_of_a_connection_can_be_set(config: ConfigFolder) -> None:
    rule, *_ = config.load(with_kind("source-down", "on_delay_min = 1", "off_delay_min = 2")).alarms.health
    assert rule.delays == Delays(on_s=60.0, off_s=120.0)


def test_what_must_be_free_of_the_disk_and_what_is_kept_can_be_set(config: ConfigFolder) -> None:
    store = "[store]\nleast_free_percent = 2\nleast_free_mb = 50\nreserve_mb = 0.5\n"
    loaded = config.load("\n".join((BASE, store)))
    assert loaded.alarms.disk == DiskLimits(0.02, 50_000_000)
    assert loaded.store.reserve_bytes == 500_000
