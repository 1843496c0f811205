"""The register: what events, people, reasons and time do to alarms."""

from collections.abc import Callable

import pytest

from parchd.alarms.adopting import adopt, serviced
from parchd.alarms.condition import Change
from parchd.alarms.events import AlarmEvent, AlarmKey
from parchd.alarms.lifecycle import Happening, State
from parchd.alarms.manners import Manner
from parchd.alarms.register import Register
from parchd.alarms.rules import AlarmKind
from parchd.alarms.standing import AT_REST, Act, ActRefused, Transition

HOUR = 3600 * 1_000_000
DAY = 24 * HOUR
ZONE = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/north")
LEAK = AlarmKey(AlarmKind.AIR_LEAK, "tensiometer/north-1-30")
SILENT = AlarmKey(AlarmKind.SILENT, "tensiometer/north-1-30")
NOISE = AlarmKey(AlarmKind.NOISY_SUPPLY, "tensiometer/north-1-30")


def raised(key: AlarmKey, at_us: int) -> AlarmEvent:
    return AlarmEvent(key, Change.RAISED, at_us, at_us)


def cleared(key: AlarmKey, at_us: int, raised_us: int, **evidence: str) -> AlarmEvent:
    return AlarmEvent(key, Change.CLEARED, at_us, raised_us, evidence=dict(evidence))


def states(steps: list[Transition]) -> list[str]:
    return [f"{step.before.value} {step.happening.value} {step.after.value}" for step in steps]


def on(key: AlarmKey) -> Register:
    register = Register()
    register.take([raised(key, 0)], 0)
    return register


def shelve(key: AlarmKey, until_us: int) -> Act:
    return Act(Happening.SHELVED, key, by="Ada", why="pipe is open", until_us=until_us)


def test_an_alarm_is_raised_acknowledged_and_cleared() -> None:
    register = on(ZONE)
    assert register.standing(ZONE).state is State.UNACKNOWLEDGED
    (step,) = register.act(Act(Happening.ACKNOWLEDGED, ZONE, by="Ada", via="link"), HOUR)
    assert (step.by, step.via, step.episode) == ("Ada", "link", "irrigate-now.zone.north.0")
    stands = register.standing(ZONE)
    assert (stands.state, stands.by, stands.acknowledged_us) == (State.ACKNOWLEDGED, "Ada", HOUR)
    assert states(register.take([cleared(ZONE, 2 * HOUR, 0)], 2 * HOUR)) == ["acknowledged cleared normal"]
    assert register.standings == {}


def test_what_went_before_anybody_saw_it_waits_a_day_to_be_seen() -> None:
    register = on(SILENT)
    assert states(register.take([cleared(SILENT, HOUR, 0)], HOUR)) == ["unacknowledged cleared returned-unacknowledged"]
    assert register.tick(HOUR + DAY - 1) == []
    (step,) = register.tick(HOUR + DAY)
    assert (step.happening, step.after, step.via) == (Happening.ACKNOWLEDGED, State.NORMAL, "clock")
    assert register.standings == {}


def test_alarms_of_low_priority_leave_nothing_behind() -> None:
    register = on(NOISE)
    assert states(register.take([cleared(NOISE, HOUR, 0)], HOUR)) == ["unacknowledged cleared normal"]


def test_high_priority_is_annunciated_anew_each_day_and_an_acknowledgement_holds_one_day() -> None:
    register = on(ZONE)
    assert register.tick(DAY - 1) == []
    assert states(register.tick(DAY)) == ["unacknowledged repeated unacknowledged"]
    register.act(Act(Happening.ACKNOWLEDGED, ZONE), DAY + HOUR)
    assert register.tick(2 * DAY) == []
    (step,) = register.tick(2 * DAY + HOUR)
    assert (states([step]), step.annunciates) == (["acknowledged repeated unacknowledged"], True)
    assert register.standing(ZONE).repeated_us == 2 * DAY + HOUR


def test_others_are_not_repeated() -> None:
    assert on(SILENT).tick(90 * DAY) == []


def test_a_shelf_ends_by_itself_and_the_alarm_is_heard_again() -> None:
    register = on(ZONE)
    register.act(Act(Happening.ACKNOWLEDGED, ZONE), 1)
    (step,) = register.act(shelve(ZONE, 4 * HOUR), HOUR)
    assert (step.by, step.why, step.until_us) == ("Ada", "pipe is open", 4 * HOUR)
    assert register.tick(4 * HOUR - 1) == []
    (step,) = register.tick(4 * HOUR)
    assert (states([step]), step.via) == (["shelved unshelved unacknowledged"], "clock")


def test_what_comes_and_goes_behind_a_shelf_is_written_down_and_heard_of_nowhere() -> None:
    register = Register()
    register.act(shelve(ZONE, 4 * HOUR), 0)
    steps = register.take([raised(ZONE, 1), cleared(ZONE, 2, 1), raised(ZONE, 3)], 3)
    assert {step.after for step in steps} == {State.SHELVED}
    stands = register.standing(ZONE)
    assert (stands.is_on, stands.raised_us, stands.by, stands.until_us) == (True, 3, "Ada", 4 * HOUR)
    (step,) = register.act(Act(Happening.UNSHELVED, ZONE, by="Bo"), HOUR)
    assert (step.after, step.raised_us) == (State.UNACKNOWLEDGED, 3)


def test_a_clock_that_was_set_back_ends_what_was_shelved_in_its_future() -> None:
    register = Register()
    register.act(shelve(ZONE, 400 * DAY + HOUR), 400 * DAY)
    (step,) = register.tick(DAY)
    assert (step.after, step.why) == (State.NORMAL, "the clock was set back")


@pytest.mark.parametrize("leapt_us", [400 * DAY, HOUR])
def test_where_the_clock_leapt_forward_or_back_an_alarm_is_repeated_a_day_later(leapt_us: int) -> None:
    register = Register()
    register.take([raised(ZONE, 10 * DAY)], 10 * DAY)
    register.leapt(leapt_us)
    assert register.tick(leapt_us) == register.tick(leapt_us + DAY - 1) == []
    assert states(register.tick(leapt_us + DAY)) == ["unacknowledged repeated unacknowledged"]


def test_a_leap_counts_for_what_was_there_before_and_not_for_what_came_later() -> None:
    register = Register()
    register.leapt(5 * DAY)
    register.take([raised(ZONE, 6 * DAY)], 6 * DAY)
    assert register.tick(7 * DAY - 1) == []
    assert states(register.tick(7 * DAY)) == ["unacknowledged repeated unacknowledged"]


def test_what_went_unseen_waits_anew_where_the_clock_leapt_and_a_shelf_ends_by_the_wall() -> None:
    register = on(ZONE)
    register.act(shelve(SILENT, DAY), 0)
    register.take([cleared(ZONE, HOUR, 0)], HOUR)
    register.leapt(400 * DAY)
    assert [(step.key, step.happening) for step in register.tick(400 * DAY)] == [(SILENT, Happening.UNSHELVED)]
    assert states(register.tick(401 * DAY)) == ["returned-unacknowledged acknowledged normal"]


@pytest.mark.parametrize("until_us", [None, 0, DAY, 8 * DAY + 1])
def test_a_shelf_needs_an_end_within_seven_days(until_us: int | None) -> None:
    act = Act(Happening.SHELVED, ZONE, why="pipe is open", until_us=until_us)
    with pytest.raises(ActRefused, match="within seven days"):
        Register().act(act, DAY)


@pytest.mark.parametrize("happening", [Happening.SHELVED, Happening.REMOVED])
def test_a_reason_is_asked_for(happening: Happening) -> None:
    with pytest.raises(ActRefused, match="say why"):
        Register().act(Act(happening, ZONE, why=" ", until_us=HOUR), 0)


def test_a_shelf_can_be_prolonged() -> None:
    register = Register()
    register.act(shelve(ZONE, 4 * HOUR), 0)
    register.act(shelve(ZONE, 9 * HOUR), HOUR)
    assert register.tick(4 * HOUR) == []
    assert states(register.tick(9 * HOUR)) == ["shelved unshelved normal"]


def test_an_acknowledgement_survives_a_suppression() -> None:
    register = on(ZONE)
    register.act(Act(Happening.ACKNOWLEDGED, ZONE, by="Ada"), 1)
    (step,) = register.suppress({ZONE: "its gateway is silent"}, 2)
    assert (states([step]), step.why) == (["acknowledged suppressed suppressed"], "its gateway is silent")
    assert register.suppress({ZONE: "its gateway is silent"}, 3) == []
    assert states(register.suppress({}, 4)) == ["suppressed released acknowledged"]


def test_what_came_while_it_was_suppressed_is_heard_once_it_is_released() -> None:
    register = Register()
    register.suppress({ZONE: "start-up"}, 0)
    assert register.take([raised(ZONE, 1)], 1)[0].after is State.SUPPRESSED
    (step,) = register.suppress({}, 2)
    assert step.annunciates


def test_a_suppressed_alarm_can_be_acknowledged() -> None:
    register = on(ZONE)
    register.suppress({ZONE: "start-up"}, 1)
    register.act(Act(Happening.ACKNOWLEDGED, ZONE), 2)
    assert register.suppress({}, 3)[0].after is State.ACKNOWLEDGED


def test_a_reason_to_suppress_waits_behind_a_shelf() -> None:
    register = on(ZONE)
    register.act(shelve(ZONE, HOUR), 0)
    register.suppress({ZONE: "its gateway is silent"}, 1)
    (step,) = register.tick(HOUR)
    assert step.after is State.SUPPRESSED
    stands = register.standing(ZONE)
    assert (stands.why, stands.until_us) == ("its gateway is silent", None)
    assert register.suppress({}, 2 * HOUR)[0].after is State.UNACKNOWLEDGED


def test_a_fault_that_hides_itself_stays_latched_until_it_is_reset() -> None:
    register = on(LEAK)
    assert register.take([cleared(LEAK, 1, 0, end="recovered")], 1)[0].after is State.LATCHED
    register.act(Act(Happening.ACKNOWLEDGED, LEAK), 2)
    assert register.standing(LEAK).state is State.LATCHED
    assert register.tick(90 * DAY) == []
    assert states(register.act(Act(Happening.RESET, LEAK), 91 * DAY)) == ["latched reset normal"]


def test_a_latched_alarm_stays_so_behind_a_shelf() -> None:
    register = on(LEAK)
    register.act(shelve(LEAK, HOUR), 0)
    register.take([cleared(LEAK, 1, 0, end="recovered")], 1)
    assert register.tick(HOUR)[0].after is State.LATCHED


def test_a_latched_alarm_that_was_served_behind_a_shelf_comes_home_normal() -> None:
    register = on(LEAK)
    register.act(shelve(LEAK, HOUR), 0)
    register.take([cleared(LEAK, 1, 0, end="recovered")], 1)
    assert states(serviced(register, LEAK.subject, "Ada", 2)) == ["shelved reset shelved"]
    assert register.tick(HOUR)[0].after is State.NORMAL


@pytest.mark.parametrize("end", ["serviced", "dismissed", "refined", "repeated"])
def test_a_finding_that_was_dealt_with_leaves_nothing_to_answer(end: str) -> None:
    register = Register()
    for key in (LEAK, SILENT):
        register.take([raised(key, 0)], 0)
        steps = register.take([cleared(key, 1, 0, end=end, by="Ada", because="seen it")], 1)
        assert (steps[-1].after, steps[-1].by, steps[-1].why) == (State.NORMAL, "Ada", "seen it")
    assert register.standings == {}


def test_a_service_that_is_written_down_resets() -> None:
    register = on(LEAK)
    register.take([cleared(LEAK, 1, 0, end="recovered")], 1)
    assert serviced(register, "tensiometer/south-1-30", "Ada", 2) == []
    (step,) = serviced(register, LEAK.subject, "Ada", 2)
    assert (step.happening, step.by, step.after) == (Happening.RESET, "Ada", State.NORMAL)


def test_what_is_out_of_service_stays_so_until_it_is_put_back() -> None:
    register = on(ZONE)
    register.act(Act(Happening.REMOVED, ZONE, why="fallow this year"), 1)
    register.take([cleared(ZONE, 2, 0), raised(ZONE, 3)], 3)
    assert register.tick(300 * DAY) == []
    assert register.act(Act(Happening.RESTORED, ZONE), 301 * DAY)[0].after is State.UNACKNOWLEDGED


def test_an_answer_to_an_episode_that_is_over_does_nothing() -> None:
    register = on(SILENT)
    episode = "silent.tensiometer.north-1-30.0"
    register.take([cleared(SILENT, 1, 0), raised(SILENT, 2)], 2)
    with pytest.raises(ActRefused, match="is over"):
        register.act(Act(Happening.ACKNOWLEDGED, SILENT, episode), 3)
    with pytest.raises(ActRefused, match="is over"):
        register.act(Act(Happening.ACKNOWLEDGED, episode=episode), 3)
    (step,) = register.act(Act(Happening.ACKNOWLEDGED, episode="silent.tensiometer.north-1-30.2"), 3)
    assert step.key == SILENT


@pytest.mark.parametrize(
    ("prepare", "happening", "says"),
    [
        (lambda r: None, Happening.ACKNOWLEDGED, "normal: nothing is to be acknowledged"),
        (lambda r: r.take([raised(ZONE, 0)], 0), Happening.RESET, "its cause still holds"),
        (lambda r: r.act(shelve(ZONE, HOUR), 0), Happening.ACKNOWLEDGED, "off the shelf first"),
        (lambda r: r.act(Act(Happening.REMOVED, ZONE, why="x"), 0), Happening.ACKNOWLEDGED, "back into service first"),
        (lambda r: None, Happening.UNSHELVED, "on no shelf"),
        (lambda r: None, Happening.RESTORED, "not out of service"),
        (lambda r: None, Happening.RAISED, "nobody can do this"),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_sentence(
    prepare: Callable[[Register], object], happening: Happening, says: str
) -> None:
    register = Register()
    prepare(register)
    before = dict(register.standings)
    with pytest.raises(ActRefused, match=says):
        register.act(Act(happening, ZONE), 1)
    assert dict(register.standings) == before


def test_who_acknowledged_first_is_named_to_the_second() -> None:
    register = on(ZONE)
    register.act(Act(Happening.ACKNOWLEDGED, ZONE, by="Ada"), 1)
    with pytest.raises(ActRefused, match="acknowledged already by Ada"):
        register.act(Act(Happening.ACKNOWLEDGED, ZONE, by="Bo"), 2)


def test_a_kind_that_the_configuration_takes_out_of_service_is_never_heard() -> None:
    def manner(key: AlarmKey) -> Manner:
        return Manner(out_of_service="no pumps yet" if key.kind is AlarmKind.IRRIGATE_NOW else "")

    register = on(ZONE)
    (step,) = adopt(register, manner, lambda key: True, lambda key: True, 1)
    assert (step.after, step.why, step.via) == (State.OUT_OF_SERVICE, "no pumps yet", "configuration")
    assert adopt(register, manner, lambda key: True, lambda key: True, 2) == []
    with pytest.raises(ActRefused, match="change it there"):
        register.act(Act(Happening.RESTORED, ZONE), 3)
    other = AlarmKey(AlarmKind.IRRIGATE_NOW, "zone/south")
    assert not any(step.annunciates for step in register.take([raised(other, 4)], 4))
    back = adopt(register, lambda key: Manner(), lambda key: True, lambda key: True, 5)
    assert [step.after for step in back] == [State.UNACKNOWLEDGED] * 2


def test_a_kind_that_a_person_took_out_stays_out_whatever_the_configuration() -> None:
    register = on(ZONE)
    register.act(Act(Happening.REMOVED, ZONE, why="fallow"), 1)
    assert adopt(register, lambda key: Manner(), lambda key: True, lambda key: True, 2) == []


def test_what_the_configuration_has_no_more_goes_to_rest_unheard() -> None:
    register = Register()
    register.take([raised(ZONE, 0), raised(LEAK, 0), raised(SILENT, 0)], 0)
    register.suppress({ZONE: "start-up"}, 1)
    register.act(shelve(ZONE, HOUR), 2)
    register.act(Act(Happening.REMOVED, SILENT, why="x"), 2)
    steps = adopt(register, lambda key: Manner(latches=True), lambda key: False, lambda key: False, 3)
    assert register.standings == {}
    assert not any(step.annunciates for step in steps)
    assert {step.via for step in steps} == {"configuration"}


def test_an_alarm_whose_condition_the_judges_forgot_is_over() -> None:
    register = on(ZONE)
    adopt(register, lambda key: Manner(returned_us=None), lambda key: True, lambda key: False, 1)
    assert register.standing(ZONE) == AT_REST
