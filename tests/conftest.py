"""What all tests share: services that must be there, threads that must not stay."""

import shutil
import threading
import time
from collections.abc import Iterator

import pytest
from hypothesis import settings

from parchd.testing.bodies import check_body
from parchd.testing.http_receiver import HttpReceiver
from parchd.testing.post_server import Post, Step

settings.register_profile("parchd", deadline=None)  # a slow machine is not a failure
settings.load_profile("parchd")

INSTALL = {
    "mosquitto": "apt-get install mosquitto",
    "victoria-metrics": "apt-get install victoria-metrics",
    "influxd": "apt-get install influxdb",
    "socat": "apt-get install socat",
    "chromium": "apt-get install chromium",
    "systemd-analyze": "apt-get install systemd",
}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--without",
        action="append",
        default=[],
        choices=sorted(INSTALL),
        help="leave out the tests that need this program (may be given several times)",
    )


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "needs(program): the test starts this installed program")


def pytest_runtest_setup(item: pytest.Item) -> None:
    for mark in item.iter_markers("needs"):
        (program,) = mark.args
        if program in item.config.getoption("--without"):
            pytest.skip(f"left out with --without {program}")
        if shutil.which(program) is None and shutil.which(program, path="/usr/sbin:/sbin") is None:
            pytest.fail(f"{program} is missing: {INSTALL[program]} (or pytest --without {program})", pytrace=False)


@pytest.fixture(autouse=True)
def every_webhook_fits_the_schema(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fail a test in which a receiver gets a body of ours that is not as it was published."""
    take, wrong = HttpReceiver._take, []

    def checked(receiver: HttpReceiver, post: Post) -> Step:
        if post.headers.get("User-Agent") == "parchd":
            try:
                check_body(post.body)
            except Exception as error:
                wrong.append(error)
        return take(receiver, post)

    monkeypatch.setattr(HttpReceiver, "_take", checked)
    yield
    assert not wrong, wrong[0]


@pytest.fixture(autouse=True)
def no_thread_stays() -> Iterator[None]:
    """Fail a test that leaves a thread running."""
    before = set(threading.enumerate())
    yield
    deadline = time.monotonic() + 3.0
    while left := [t for t in threading.enumerate() if t not in before and t.is_alive()]:
        if time.monotonic() > deadline:
            pytest.fail(f"threads left running: {[thread.name for thread in left]}")
        time.sleep(0.02)
