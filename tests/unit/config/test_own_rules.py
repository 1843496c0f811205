"""``[rules.NAME]``, drying and wet ground: what they are compiled into, and what is refused."""

from datetime import time

import pytest

from parchd.alarms.delays import Delays
from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.rules import DecisionWindow
from parchd.alarms.terms import Level, Presence, Quantity, Rule
from parchd.contract import Priority
from parchd.testing.config_folder import BASE, ConfigFolder, changed, line_of

SECOND = """\
[tensiometers.n2]
zone = "north"
depth_cm = 60
height_cm = 75
channel = "bus1/a1"
transducer = "vac"
"""
WORDS = 'say = "water below the roots"\nrespond = "close valve 3"\n'


def with_rule(*lines: str, words: str = WORDS) -> str:
    return "\n".join((BASE, SECOND, "[rules.mine]", *lines, words))


def when(*terms: str) -> str:
    return with_rule(f"when = [{', '.join(terms)}]")


def rule_of(config: ConfigFolder, text: str) -> Rule:
    (found,) = config.load(text).alarms.rules
    return found


def test_a_rule_is_compiled_with_its_conditions_delays_priority_and_words(config: ConfigFolder) -> None:
    text = with_rule(
        'when = [{ tension = "n2", below = 2.0 }, { finding = "air-leak", of = "n1", absent = true }]',
        "for_min = 120", "clear_after_min = 30", 'priority = "high"',
    )  # fmt: skip
    assert rule_of(config, text) == Rule(
        key=AlarmKey(AlarmKind.OWN_RULE, "rule/mine"),
        terms=(
            Level(Quantity.TENSION, "n2", 2.0, above=False, deadband=3.0, fresh_s=3600.0),
            Presence("air-leak", "n1", (AlarmKey(AlarmKind.AIR_LEAK, "tensiometer/n1"),), absent=True),
        ),
        all_of=True,
        delays=Delays(on_s=7200.0, off_s=1800.0),
        priority=Priority.HIGH,
        say="water below the roots",
        respond="close valve 3",
    )


def test_one_condition_may_be_enough(config: ConfigFolder) -> None:
    found = rule_of(config, with_rule('any = [{ tension = "n1", above = 30 }, { tension = "n2", above = 35 }]'))
    assert not found.all_of
    assert found.priority is Priority.LOW


def test_what_is_not_said_of_a_level_is_as_usual(config: ConfigFolder) -> None:
    found = rule_of(
        config,
        when(
            '{ zone_tension = "north", above = 35 }',
            '{ rise = "n1", above = 8 }',
            '{ zone_rise = "north", above = 9 }',
            '{ channel = "bus1/supply", below = 4.6 }',
        ),
    )
    morning_s = 26 * 3600.0
    assert found.terms == (
        Level(Quantity.ZONE_TENSION, "north", 35.0, above=True, deadband=3.0, fresh_s=morning_s),
        Level(Quantity.RISE, "n1", 8.0, True, 0.05 * 8.0, morning_s, ("n1",)),
        Level(Quantity.ZONE_RISE, "north", 9.0, True, 0.05 * 9.0, morning_s, ("n1",)),
        Level(Quantity.CHANNEL, "bus1/supply", 4.6, False, 0.05 * 4.6, 7200.0),
    )


def test_a_silent_tensiometer_is_one_that_is_silent_alone_or_with_its_source(config: ConfigFolder) -> None:
    tensiometer, source = rule_of(config, when('{ silent = "n1" }', '{ silent = "bus1", absent = true }')).terms
    assert tensiometer == Presence(
        "silent", "n1",
        (AlarmKey(AlarmKind.SILENT, "tensiometer/n1"), AlarmKey(AlarmKind.SILENT_SOURCE, "source/bus1")),
    )  # fmt: skip
    assert source == Presence(
        "silent", "bus1",
        (AlarmKey(AlarmKind.SILENT_SOURCE, "source/bus1"), AlarmKey(AlarmKind.SOURCE_DOWN, "source/bus1")), absent=True,
    )  # fmt: skip


def test_a_finding_may_be_about_a_source(config: ConfigFolder) -> None:
    (term,) = rule_of(config, when('{ finding = "wrong-clock", of = "bus1" }')).terms
    assert isinstance(term, Presence)
    assert term.keys == (AlarmKey(AlarmKind.WRONG_CLOCK, "source/bus1"),)


def test_mornings_are_kept_of_those_whose_rise_is_asked_only(config: ConfigFolder) -> None:
    assert config.load(when('{ tension = "n1", above = 30 }')).alarms.mornings == {}
    found = config.load(when('{ rise = "n2", above = 3 }')).alarms.mornings
    assert found == {"n2": DecisionWindow(time(5), time(8), "Europe/Lisbon")}


def test_mornings_are_those_of_the_zone_and_the_usual_ones_where_any_reading_decides(config: ConfigFolder) -> None:
    drying = changed("now_kpa = 40", "now_kpa = 40\ndrying_kpa_per_day = 6")
    early = changed("drying_kpa_per_day = 6", 'drying_kpa_per_day = 6\nwindow = ["04:00", "06:00"]', drying)
    assert config.load(early).alarms.mornings["n1"].start == time(4)
    any_time = changed("drying_kpa_per_day = 6", 'drying_kpa_per_day = 6\ndecide = "any"', drying)
    assert config.load(any_time).alarms.mornings["n1"].start == time(5)


def test_a_zone_that_dries_fast_or_stays_wet_is_a_rule_of_ours(config: ConfigFolder) -> None:
    keys = "now_kpa = 40\ndrying_kpa_per_day = 8\nwet_kpa = 1\nwet_h = 72"
    text = changed("now_kpa = 40", keys) + SECOND + "[alarms.drying-fast]\non_delay_min = 90\noff_delay_min = 30\n"
    drying, wet = config.load(text).alarms.rules
    assert drying == Rule(
        AlarmKey(AlarmKind.DRYING_FAST, "zone/north"),
        (Level(Quantity.ZONE_RISE, "north", 8.0, True, 1.6, 26 * 3600.0, ("n1",)),),
        delays=Delays(on_s=5400.0, off_s=1800.0),
    )
    assert wet.key == AlarmKey(AlarmKind.WET_TOO_LONG, "zone/north")
    assert (wet.all_of, wet.delays) == (False, Delays(on_s=72 * 3600.0))
    assert [term.name for term in wet.terms] == ["n1", "n2"], "deep ones too"


WRONG = {
    "no condition": (with_rule(""), "rules.mine", "no condition", "one of when"),
    "both": (
        with_rule('when = [{ tension = "n1", above = 9 }]', 'any = [{ tension = "n1", above = 9 }]'),
        "rules.mine", "when together with any", "one of when",
    ),
    "about nothing": (when("{ above = 9 }"), "rules.mine.when[1]", "nothing that it is about", "one of channel"),
    "about two things": (
        when('{ tension = "n1", rise = "n1", above = 9 }'), "rules.mine.when[1]", "tension and rise", "one of channel",
    ),
    "no limit": (when('{ tension = "n1" }'), "rules.mine.when[1]", "neither above nor below", "one of above, below"),
    "two limits": (
        when('{ tension = "n1", above = 3, below = 9 }'), "rules.mine.when[1]", "above together with below", "one of",
    ),
    "a limit of a finding": (
        when('{ finding = "frozen", of = "n1", above = 3 }'), "rules.mine.when[1].above", "above together with finding",
        "finding without it",
    ),
    "a level that is absent": (
        when('{ tension = "n1", above = 3, absent = true }'), "rules.mine.when[1].absent",
        "absent together with tension", "tension without it",
    ),
    "a finding about nothing": (
        when('{ finding = "frozen" }'), "rules.mine.when[1]", "nothing that the finding is about", "of: the name",
    ),
    "a finding that is none": (
        when('{ finding = "frozzen", of = "n1" }'), "rules.mine.when[1].finding", '"frozzen"', "the word of a finding",
    ),
    "a finding that other alarms tell": (
        when('{ finding = "silent-channel", of = "n1" }'), "rules.mine.when[1].finding", '"silent-channel"', "one of",
    ),
    "no such tensiometer": (
        when('{ tension = "n3", above = 9 }'), "rules.mine.when[1].tension", '"n3"', "the name of a tensiometer",
    ),
    "no such zone": (
        when('{ zone_tension = "nort", above = 9 }'), "rules.mine.when[1].zone_tension", '"nort"', "the name of a zone",
    ),
    "no such source": (
        when('{ channel = "bus2/a", above = 9 }'), "rules.mine.when[1].channel", '"bus2/a"', "the name of a source",
    ),
    "nobody of that name to be silent": (
        when('{ silent = "n3" }'), "rules.mine.when[1].silent", '"n3"', "the name of a tensiometer or source",
    ),
    "above what it can show": (
        when('{ tension = "n1", above = 99 }'), "rules.mine.when[1].above", "99 kPa", "at most 79.4 kPa",
    ),
    "below what the ground can have": (
        when('{ tension = "n1", below = -40 }'), "rules.mine.when[1].below", "-40 kPa", "at least",
    ),
    "a deadband that is never left": (
        when('{ tension = "n1", above = 5, deadband = 40 }'), "rules.mine.when[1].deadband",
        "5 kPa with deadband of 40, left at -35 kPa", "a limit that is left between",
    ),
    "ground that dries by nothing": (
        when('{ rise = "n1", above = 0 }'), "rules.mine.when[1].above", "0 kPa a day", "more than 0",
    ),
    "limits that exclude each other": (
        when('{ tension = "n1", above = 30 }', '{ tension = "n1", below = 20 }'), "rules.mine.when[2].below",
        "20, while another condition of it asks for 30 or more", "conditions that can hold together",
    ),
    "nothing to say": (
        with_rule('when = [{ tension = "n1", above = 9 }]', words='respond = "look"\n'), "rules.mine.say", "nothing",
        "say: what is the matter",
    ),
    "nothing to do": (
        with_rule('when = [{ tension = "n1", above = 9 }]', words='say = "dry"\n'), "rules.mine.respond", "nothing",
        "respond: what to do",
    ),
    "an unknown key": (
        when('{ tension = "n1", over = 9 }'), "rules.mine.when[1].over", "an unknown key", "one of above",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "key", "found", "expected"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_with_a_rule_is_named_with_its_line(
    config: ConfigFolder, text: str, key: str, found: str, expected: str
) -> None:
    problem = next(problem for problem in config.problems(text) if problem.key == key)
    assert problem.file == "farm.toml"
    assert problem.line is not None
    assert problem.line >= line_of("[rules.mine]", text)
    assert problem.found == found
    assert expected in problem.expected


def test_each_mistake_is_told_once(config: ConfigFolder) -> None:
    for name, (text, *_) in WRONG.items():
        assert len(config.problems(text)) == 1, name


def test_all_mistakes_of_a_rule_are_told_at_once(config: ConfigFolder) -> None:
    text = when('{ tension = "n3", above = 9 }', "{ above = 9 }", '{ silent = "n4" }')
    assert len(config.problems(text)) == 3


def test_a_zone_without_limits_votes_for_nothing(config: ConfigFolder) -> None:
    text = changed("plan_kpa = 30\nnow_kpa = 40\n", "", when('{ zone_tension = "north", above = 20 }'))
    problem = config.problem(text)
    assert (problem.key, problem.found) == ("rules.mine.when[1].zone_tension", '"north", which has no limits')


def test_a_zone_in_which_nobody_decides_has_no_pace(config: ConfigFolder) -> None:
    nobody = changed("height_cm = 45", "height_cm = 45\ndecides = false")
    text = changed("now_kpa = 40", "now_kpa = 40\ndrying_kpa_per_day = 8", nobody)
    assert [problem.key for problem in config.problems(text)] == ["zones.north.drying_kpa_per_day"]


@pytest.mark.parametrize(("wet_kpa", "is_wrong"), [("28.9", False), ("29", True), ("35", True), ("-2", False)])
def test_ground_is_wet_well_below_the_limits_of_its_zone(config: ConfigFolder, wet_kpa: str, is_wrong: bool) -> None:
    text = changed("now_kpa = 40", f"now_kpa = 40\nwet_kpa = {wet_kpa}")
    assert [problem.key for problem in config.problems(text)] == ["zones.north.wet_kpa"] * is_wrong


def test_a_tensiometer_that_is_read_less_than_once_a_morning_tells_little_of_its_pace(config: ConfigFolder) -> None:
    slow = changed("height_cm = 45", "height_cm = 45\ninterval_s = 86400")
    text = changed("now_kpa = 40", "now_kpa = 40\ndrying_kpa_per_day = 8", slow)
    found = [warning.found for warning in config.warnings(text)]
    assert "86400 s for n1, whose rise a rule asks for" in found


def test_a_broken_zone_makes_no_second_mistake_of_the_rules_that_name_it(config: ConfigFolder) -> None:
    text = changed("plan_kpa = 30", 'plan_kpa = "dry"', when('{ zone_rise = "north", above = 8 }'))
    assert [problem.key for problem in config.problems(text)] == ["zones.north.plan_kpa"]


def test_a_rule_may_be_changed_by_a_variable(config: ConfigFolder) -> None:
    config.environ["PARCHD_RULES__MINE__FOR_MIN"] = "45"
    assert rule_of(config, when('{ tension = "n1", above = 9 }')).delays.on_s == 2700.0
