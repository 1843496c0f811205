"""What the engine is told of a configuration."""

from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

from parchd.app.setup import engine_setup, names, places
from parchd.config import NotifierPolicy
from parchd.contract import Priority
from parchd.store.dispatch import DispatchRules, QuietHours
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
    (made,) = engine_setup(loaded, {"mail": ("anne", "ben")}).routes
    assert (made.notifier, made.recipients, made.lowest_priority, made.digest) == (
        "mail", ("anne", "ben"), Priority.MEDIUM, False,
    )  # fmt: skip
    assert made.rules == DispatchRules(3, QuietHours(time(22), time(6), ZoneInfo("Europe/Berlin")), Priority.HIGH)
    assert made.fingerprint == loaded.fingerprint("notifiers.mail")


def test_without_quiet_hours_nothing_waits_for_their_end(tmp_path: Path) -> None:
    loaded = loaded_site(tmp_path, notifiers={"mail": FakeNotifier()})
    (made,) = engine_setup(loaded, {"mail": ("anne",)}).routes
    assert made.rules.quiet is None


def test_schedule_and_store_are_handed_on(tmp_path: Path) -> None:
    setup = engine_setup(loaded_site(tmp_path, digest_at=time(6, 30)), {})
    assert (setup.digest_at, setup.keep_days, setup.routes) == (time(6, 30), None, ())
    assert setup.alarms == small_site()[1]
