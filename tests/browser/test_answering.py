"""The pages behind links on a phone: readable, large enough for a finger, and all of it without JavaScript."""

import html
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from parchd.alarms.events import AlarmKey
from parchd.alarms.kinds import AlarmKind
from parchd.alarms.lifecycle import State
from parchd.alarms.links import LinkAct
from parchd.store.services import records
from parchd.testing.browser import Browser
from parchd.testing.pages import NORTH, ServedFarm
from parchd.testing.site import HOUR_US, batch, sample

pytestmark = pytest.mark.needs("chromium")

FINGER = 44.0
"""What a finger hits, in CSS pixels (WCAG 2.2, target size, enhanced)."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with Browser() as opened:
        yield opened


@pytest.fixture
def farm(tmp_path: Path) -> Iterator[ServedFarm]:
    with ServedFarm(tmp_path) as served:
        yield served


def look(browser: Browser, farm: ServedFarm, path: str) -> None:
    browser.open(f"http://127.0.0.1:{farm.port}{path}")


def keep(browser: Browser, name: str) -> None:
    """Keep a picture to look at, where somebody wants one."""
    if folder := os.environ.get("PICTURES"):
        browser.picture(Path(folder) / f"{name}.png")


def test_a_person_acknowledges_with_one_press(browser: Browser, farm: ServedFarm) -> None:
    path = farm.link(LinkAct.ACKNOWLEDGE)
    look(browser, farm, path)
    browser.wait_for("Acknowledge this alarm?")
    keep(browser, "acknowledge")
    assert farm.standing().state is State.UNACKNOWLEDGED
    browser.click("button")
    browser.wait_for("Thank you, Ines.")
    keep(browser, "acknowledged")
    assert farm.standing().state is State.ACKNOWLEDGED
    look(browser, farm, path)
    browser.wait_for("This link has been used")
    keep(browser, "used")


def test_a_person_keeps_an_alarm_quiet_for_as_long_and_for_the_reason_they_choose(
    browser: Browser, farm: ServedFarm
) -> None:
    look(browser, farm, farm.link(LinkAct.SHELVE, "jost"))
    browser.wait_for("Diesen Alarm stillstellen?")
    browser.click('input[name="hours"][value="4"]')
    browser.type("#other", "Pumpe ist beim Schlosser")
    keep(browser, "shelve-de")
    browser.click("button")
    browser.wait_for("Danke, Jost.")
    keep(browser, "shelved-de")
    one = farm.standing(NORTH)
    assert (one.state, one.by, one.why) == (State.SHELVED, "jost", "Pumpe ist beim Schlosser")
    assert one.until_us == farm.clock.now_us() + 4 * HOUR_US


def test_a_person_says_that_work_is_done(browser: Browser, farm: ServedFarm) -> None:
    key = AlarmKey(AlarmKind.ABOVE_LIMIT, "tensiometer/north-20")
    for _ in range(10):
        farm.clock.advance(600.0)
        farm.turn(batch(sample("n20", farm.clock.now_us(), 95.0)))
    look(browser, farm, farm.link(LinkAct.SERVICE, key=key))
    browser.wait_for("Is the work on north-20 done?")
    keep(browser, "service")
    browser.click('input[name="work"][value="re-prime"]')
    browser.click("button")
    browser.wait_for("Written down")
    (service,) = records(farm.connection)
    assert (service.tensiometer, service.work) == ("north-20", "re-prime")


@pytest.mark.parametrize("width", [320, 360, 412, 1100])
@pytest.mark.parametrize("person", ["ines", "jost"])
@pytest.mark.parametrize("act", [LinkAct.ACKNOWLEDGE, LinkAct.SHELVE])
def test_nothing_is_cut_or_too_small_for_a_finger(
    farm: ServedFarm, browser: Browser, width: int, person: str, act: LinkAct
) -> None:
    browser.resize(width, 760)
    look(browser, farm, farm.link(act, person))
    browser.wait_for("<form")
    assert browser.content_size()[0] <= width
    for left, _, right, _ in browser.boxes("main *"):
        assert 0 <= left <= right <= width
    for left, top, right, bottom in browser.boxes("button, label.choice, select, input[type=text]"):
        assert bottom - top >= FINGER
        assert right - left >= FINGER
    browser.resize(360, 760)


def test_a_name_that_is_very_long_is_broken_and_cuts_nothing(browser: Browser, farm: ServedFarm) -> None:
    look(browser, farm, farm.link(LinkAct.ACKNOWLEDGE, "an-address-that-goes-on-for-ever-and-ever@" + "x" * 80))
    text = html.unescape(browser.wait_for("<form"))
    assert "x" * 80 in text
    assert browser.content_size()[0] <= 360
