"""Irrigation limits: reachable, in order, and clear of their deadband."""

from datetime import time

import pytest

from parchd.alarms.polls import Poll, Way
from parchd.alarms.rules import DecisionWindow, Delays, IrrigationRule
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

SECOND = """\
[tensiometers.n2]
zone = "north"
depth_cm = 60
height_cm = 75
channel = "bus1/a1"
transducer = "vac"
"""


def rule(config: ConfigFolder, text: str) -> IrrigationRule:
    (found,) = config.load(text).alarms.irrigation
    return found


def test_a_zone_is_judged_by_its_limits_with_the_usual_delays(config: ConfigFolder) -> None:
    assert rule(config, BASE) == IrrigationRule(
        subject="zone/north",
        tensiometers=("n1",),
        plan_kpa=30.0,
        now_kpa=40.0,
        deadband_kpa=3.0,
        delays=Delays(on_s=1800.0, off_s=3600.0),
        window=DecisionWindow(time(5), time(8), "Europe/Lisbon"),
        stations={"n1": "main"},
    )


@pytest.mark.parametrize(("now_kpa", "deadband_kpa"), [(40, 3.0), (60, 3.0), (70, 3.5)])
def test_the_usual_deadband_is_3_kpa_or_5_percent(config: ConfigFolder, now_kpa: int, deadband_kpa: float) -> None:
    assert rule(config, changed("now_kpa = 40", f"now_kpa = {now_kpa}")).deadband_kpa == pytest.approx(deadband_kpa)


def test_all_of_it_can_be_set(config: ConfigFolder) -> None:
    keys = 'now_kpa = 40\ndeadband_kpa = 5\non_delay_min = 0\noff_delay_min = 90\nwindow = ["23:00", "04:00"]'
    found = rule(config, changed("now_kpa = 40", keys))
    assert (found.deadband_kpa, found.delays) == (5.0, Delays(on_s=0.0, off_s=5400.0))
    assert found.window == DecisionWindow(time(23), time(4), "Europe/Lisbon")


def test_any_reading_may_decide_and_then_votes_go_stale_sooner(config: ConfigFolder) -> None:
    text = changed("now_kpa = 40", 'now_kpa = 40\ndecide = "any"')
    assert (rule(config, text).window, rule(config, text).fresh_s) == (None, 3600.0)
    slow = changed("height_cm = 45", "height_cm = 45\ninterval_s = 7200", text)
    assert rule(config, slow).fresh_s == 3 * 7200


def test_a_vote_of_one_morning_holds_until_after_the_next(config: ConfigFolder) -> None:
    assert rule(config, BASE).fresh_s == 26 * 3600
    weekly = changed("height_cm = 45", "height_cm = 45\ninterval_s = 604800")
    assert rule(config, weekly).fresh_s == 3 * 604_800


def test_the_shallowest_of_each_station_decides(config: ConfigFolder) -> None:
    loaded = config.load(BASE + SECOND)
    assert loaded.schedulers == {"north": ("n1",)}
    assert rule(config, BASE + SECOND).tensiometers == ("n1",)
    other = BASE + SECOND + 'station = "lower"\n'
    assert config.load(other).schedulers == {"north": ("n1", "n2")}


def test_who_says_that_it_decides_decides_alone_at_its_station(config: ConfigFolder) -> None:
    assert config.load(BASE + SECOND + "decides = true\n").schedulers == {"north": ("n2",)}


def test_who_says_that_it_does_not_leaves_it_to_the_next(config: ConfigFolder) -> None:
    text = changed("height_cm = 45", "height_cm = 45\ndecides = false") + SECOND
    assert config.load(text).schedulers == {"north": ("n2",)}


def test_equally_shallow_ones_decide_together(config: ConfigFolder) -> None:
    assert config.load(BASE + SECOND.replace("= 60", "= 30")).schedulers == {"north": ("n1", "n2")}


def test_a_tensiometer_may_have_limits_of_its_own(config: ConfigFolder) -> None:
    zone, own = config.load(BASE + SECOND + "now_kpa = 60\n").alarms.irrigation
    assert zone.subject == "zone/north"
    assert (own.subject, own.tensiometers, own.plan_kpa, own.now_kpa) == ("tensiometer/n2", ("n2",), None, 60.0)


@pytest.mark.parametrize(("plan", "refused"), [(39.9, False), (40, True), (50, True)])
def test_planning_comes_before_irrigating(config: ConfigFolder, plan: float, refused: bool) -> None:
    problems = config.problems(changed("plan_kpa = 30", f"plan_kpa = {plan}"))
    assert [problem.key for problem in problems] == ["zones.north.plan_kpa"] * refused


def test_a_limit_above_what_the_tensiometer_can_show_is_refused_with_the_reason(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", "altitude_m = 1500", changed("now_kpa = 40", "now_kpa = 80"))
    problem = config.problem(text)
    assert (problem.line, problem.key) == (line_of("now_kpa", text), "zones.north.now_kpa")
    # facts 2.3, 2.5 and 1.4: 84.78 kPa at 1500 m, 2.338 of vapour at 20 C, 4.405 for 45 cm of water
    assert problem.expected == (
        "at most 64.0 kPa, the usable limit of n1: 84.8 kPa of air at 1500 m, less 2.3 of vapour, "
        "14.0 for gas in the water and 4.4 for 45 cm of water (offset model)"
    )


@pytest.mark.parametrize(("limit", "refused"), [(79.3, False), (79.4, True)])
def test_the_usable_limit_itself_is_the_edge(config: ConfigFolder, limit: float, refused: bool) -> None:
    # facts 2.3: 100.12 kPa at 100 m; less 2.338, 14 and 4.405 = 79.38
    problems = config.problems(changed("now_kpa = 40", f"now_kpa = {limit}"))
    assert [problem.key for problem in problems] == ["zones.north.now_kpa"] * refused


def test_only_tensiometers_that_decide_bind_the_limit(config: ConfigFolder) -> None:
    text = changed("now_kpa = 40", "now_kpa = 77") + SECOND  # n2 at 75 cm reaches 76.4 kPa
    assert config.problems(text) == []
    assert "n2" in config.problem(text + "decides = true\n").expected


def test_a_limit_of_ones_own_is_checked_too(config: ConfigFolder) -> None:
    text = BASE + SECOND + "now_kpa = 77\n"
    problem = config.problem(text)
    assert (problem.key, problem.line) == ("tensiometers.n2.now_kpa", text.count("\n"))
    assert config.problem(BASE + SECOND + "now_kpa = 70\nplan_kpa = 70\n").key == "tensiometers.n2.plan_kpa"


def test_the_margin_for_gas_is_a_setting(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", "altitude_m = 100\ngas_margin_kpa = 5", changed("now_kpa = 40", "now_kpa = 88"))
    assert config.problems(text) == []


def test_nothing_is_said_of_limits_where_the_altitude_is_not_known(config: ConfigFolder) -> None:
    text = changed("altitude_m = 100", 'altitude_m = "high"', changed("now_kpa = 40", "now_kpa = 400"))
    assert config.problem(text).key == "site.altitude_m"


@pytest.mark.parametrize(
    ("keys", "key", "expected"),
    [
        ("deadband_kpa = 30", "deadband_kpa", "less than plan_kpa, which is 30 kPa"),
        ('decide = "any"\nwindow = ["05:00", "08:00"]', "window", "one of them"),
        ('window = ["05:00", "05:00"]', "window", "two different times"),
        ("min_trusted = 2", "min_trusted", "at most 1, as many as decide in this zone"),
    ],
)
def test_rules_that_cannot_work_are_refused(config: ConfigFolder, keys: str, key: str, expected: str) -> None:
    text = changed("now_kpa = 40", f"now_kpa = 40\n{keys}")
    problem = config.problem(text)
    assert (problem.key, problem.expected) == (f"zones.north.{key}", expected)
    assert problem.line == line_of(keys.splitlines()[-1], text)


def test_a_limit_within_the_usual_deadband_asks_for_one_of_its_own(config: ConfigFolder) -> None:
    text = changed("plan_kpa = 30", "plan_kpa = 3")
    assert config.problem(text).found == "the usual deadband_kpa of 3 kPa"
    assert config.problems(changed("plan_kpa = 3", "plan_kpa = 3\ndeadband_kpa = 1", text)) == []


def test_a_zone_without_limits_is_odd(config: ConfigFolder) -> None:
    warning = config.warning(changed("plan_kpa = 30\nnow_kpa = 40\n", ""))
    assert (warning.key, warning.found) == ("zones.north", "no limit")
    own = changed("plan_kpa = 30\nnow_kpa = 40\n", "", changed("height_cm = 45", "height_cm = 45\nnow_kpa = 40"))
    assert config.warnings(own) == []


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("height_cm = 45", "height_cm = 45\ndecides = false", "zones.north"),
        ("height_cm = 45", "height_cm = 45\ninterval_s = 14400", "tensiometers.n1.interval_s"),
        ("now_kpa = 40", "now_kpa = 40\non_delay_min = 180", "zones.north.on_delay_min"),
    ],
)
def test_rules_that_work_late_or_never_are_odd(config: ConfigFolder, old: str, new: str, key: str) -> None:
    assert config.warning(changed(old, new)).key == key


@pytest.mark.parametrize(
    ("vote", "way"), [('"any"', Poll.ANY), ("1", 1), ('"mean of stations"', Poll.MEAN_OF_STATIONS)]
)
def test_a_zone_may_vote_otherwise_than_by_the_median(config: ConfigFolder, vote: str, way: Way) -> None:
    found = rule(config, changed("now_kpa = 40", f"now_kpa = 40\nvote = {vote}"))
    assert (found.way, found.stations) == (way, {"n1": "main"})


@pytest.mark.parametrize(
    ("vote", "expected"),
    [("2", "at most 1, as many as decide in this zone"), ("0", "1 or more"), ('"mean"', "mean of stations")],
)
def test_a_vote_that_cannot_be_is_refused(config: ConfigFolder, vote: str, expected: str) -> None:
    problem = config.problem(changed("now_kpa = 40", f"now_kpa = 40\nvote = {vote}"))
    assert problem.key == "zones.north.vote"
    assert expected in problem.expected
