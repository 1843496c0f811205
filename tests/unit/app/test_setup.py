"""What the engine is told of a configuration."""

from dataclasses import replace
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.terms import Level, Presence, Quantity, Rule
from parchd.app.setup import engine_setup, names, places
from parchd.config import NotifierPolicy
from parchd.contract import Priority
from parchd.people.person import DigestTime, Person, Reach
from parchd.people.quiet import QuietHours
from parchd.store.dispatch import DispatchRules
from parchd.testing.notifier import FakeNotifier
from parchd.testing.site import small_site
from parchd.testing.wiring import loaded_site


def test_zones_go_by_their_titles_and_tensiometers_by_their_places(tmp_path: Path) -> None:
    called = names(loaded_site(tmp_path))
    assert (called.site, called.time_zone) == ("Quillmere Orchard", "Europe/Berlin")
    assert called.zones == {"north": "north block", "creek": "creek terrace"}
    assert called.places["creek-30"].depth_m == 0.3


def test_each_channel_of_a_tensiometer_has_its_place(tmp_path: Path) -> None:
    assert {channel: place.tensiometer for channel, place in places(loaded_site(tmp_path)).items()} == {
        "bus1/n20": "north-20", "bus1/n40": "north-40", "bus1/n60": "north-60", "bus1/c30": "creek-30",
    }  # fmt: skip


def test_a_notifier_becomes_a_route_with_its_recipients_and_its_policy(tmp_path: Path) -> None:
    policy = NotifierPolicy(Priority.MEDIUM, 3, (time(22), time(6)), Priority.HIGH, digest=False)
    loaded = loaded_site(tmp_path, notifiers={"mail": FakeNotifier()}, policy=policy)
    setup = engine_setup(loaded, {"mail": ("anne", "ben")})
    (made,) = setup.routes
    assert (made.notifier, made.recipients, made.rules) == ("mail", ("anne", "ben"), DispatchRules(3))
    assert made.fingerprint == loaded.fingerprint("notifiers.mail")


def test_recipients_of_a_notifier_are_people_who_get_every_change_by_its_policy(tmp_path: Path) -> None:
    policy = NotifierPolicy(Priority.MEDIUM, 3, (time(22), time(6)), Priority.HIGH, digest=False)
    loaded = loaded_site(tmp_path, notifiers={"mail": FakeNotifier()}, policy=policy)
    persons = engine_setup(loaded, {"mail": ("anne", "ben")}).people.persons
    assert [(one.name, one.reach) for one in persons.values()] == [
        (name, (Reach("mail", name),)) for name in ("anne", "ben")
    ]
    anne = persons["mail/anne"]
    assert (anne.lowest_priority, anne.lets_pass, anne.digest) == (Priority.MEDIUM, Priority.HIGH, None)
    assert (anne.gathers, anne.is_named, anne.voice.time_zone) == (False, False, "Europe/Berlin")
    assert anne.quiet == QuietHours(time(22), time(6), ZoneInfo("Europe/Berlin"))


def test_without_quiet_hours_nothing_waits_for_their_end(tmp_path: Path) -> None:
    loaded = loaded_site(tmp_path, notifiers={"mail": FakeNotifier()}, digest_at=time(6, 30))
    (anne,) = engine_setup(loaded, {"mail": ("anne",)}).people.persons.values()
    assert anne.quiet is None
    assert anne.digest == DigestTime(time(6, 30))


def test_schedule_and_store_are_handed_on(tmp_path: Path) -> None:
    setup = engine_setup(loaded_site(tmp_path, digest_at=time(6, 30)), {})
    assert (setup.keep_days, setup.routes, setup.people.persons) == (None, (), {})
    assert setup.alarms == small_site()[1]


def test_an_alarm_touches_the_zones_of_its_tensiometer_or_of_all_of_its_source(tmp_path: Path) -> None:
    people = engine_setup(loaded_site(tmp_path), {}).people
    touched = {
        subject: sorted(people.zones(AlarmKey(AlarmKind.SILENT, subject)))
        for subject in ("zone/north", "tensiometer/creek-30", "source/bus1", "daemon/disk")
    }
    assert touched == {
        "zone/north": ["north"], "tensiometer/creek-30": ["creek"], "source/bus1": ["creek", "north"],
        "daemon/disk": [],
    }  # fmt: skip


def test_a_rule_of_ones_own_touches_the_zones_of_what_it_names(tmp_path: Path) -> None:
    def own(name: str, *terms: Level | Presence) -> Rule:
        return Rule(AlarmKey(AlarmKind.OWN_RULE, f"rule/{name}"), terms)

    pipeline, alarms = small_site()
    silent = AlarmKey(AlarmKind.SILENT, "tensiometer/creek-30")
    rules = (
        own("both", Level(Quantity.ZONE_TENSION, "north", 9.0, above=True), Presence("silent", "creek-30", (silent,))),
        own("one", Level(Quantity.RISE, "creek-30", 9.0, above=True)),
        own("none", Level(Quantity.CHANNEL, "bus1/temp", 9.0, above=True)),
    )
    zones = engine_setup(loaded_site(tmp_path, site=(pipeline, replace(alarms, rules=rules))), {}).people.zones
    touched = [sorted(zones(AlarmKey(AlarmKind.OWN_RULE, f"rule/{name}"))) for name in ("both", "one", "none")]
    assert touched == [["creek", "north"], ["creek"], []]


def test_a_recipient_whom_a_person_is_reached_at_is_no_person_beside_them(tmp_path: Path) -> None:
    loaded = loaded_site(tmp_path, notifiers={"mail": FakeNotifier(), "hook": FakeNotifier()})
    mara = Person("mara", "Mara", (Reach("mail", "anne"), Reach("mail", "mara"), Reach("hook", "")))
    setup = engine_setup(replace(loaded, people=(mara,)), {"mail": ("anne", "ben"), "hook": ("controller",)})
    assert list(setup.people.persons) == ["mara", "mail/ben"]
    assert setup.people.persons["mara"].reach == (
        Reach("mail", "anne"), Reach("mail", "mara"), Reach("hook", "controller"),
    )  # fmt: skip
