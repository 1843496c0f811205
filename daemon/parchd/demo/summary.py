"""What is said at the beginning and at the end."""

import shlex
import shutil
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from parchd.clock import to_datetime
from parchd.demo.configuration import FILE
from parchd.demo.farm import ZONES, tensiometers
from parchd.demo.script import START_US
from parchd.testing.mail_sandbox import ReceivedMail

EXAMPLE = Path("config/bench.toml")
_HEADERS = ("From", "To", "Date", "Subject")


@dataclass(frozen=True, slots=True)
class Result:
    """What came of a demo. ``clean``: all that was delivered is on disk, and every thread ended."""

    clean: bool
    seconds: float
    farm_minutes: float
    samples: int
    raised: int
    cleared: int
    webhooks: int
    mails: Sequence[ReceivedMail]


def intro_lines(speed: float, broker: str) -> list[str]:
    """Say what this is for, what is simulated and what is real."""
    return [
        "parchd turns the volts of tensiometers into advice on when to irrigate.",
        "Simulated here: soil, water and boards of a farm that nobody owns.",
        f"Real: daemon, configuration, serial line, MQTT ({broker}), mails, webhooks.",
        f"{_pace(speed)} No mail leaves this machine. Ctrl-C ends.",
    ]


def summary_lines(result: Result, kept: Path | None) -> list[str]:
    """Say what happened, show one mail, and what to try next."""
    end = "stopped cleanly." if result.clean else "DID NOT STOP CLEANLY."
    minutes = _some(round(result.farm_minutes), "minute")
    sent = f"sent {_some(len(result.mails), 'mail')} and {_some(result.webhooks, 'webhook')}"
    return [
        "",
        f"The daemon ran for {result.seconds:.0f} s, {minutes} on the farm, and {end}",
        f"It read {result.samples} samples of {len(list(tensiometers()))} tensiometers in {len(ZONES)} zones,",
        f"raised {_some(result.raised, 'alarm')} and cleared {result.cleared}, {sent}.",
        *_mail_lines(result.mails),
        *_next_lines(kept),
    ]


def _mail_lines(mails: Sequence[ReceivedMail]) -> list[str]:
    if not mails:
        return []
    mail = next((mail for mail in mails if "irrigate now" in mail.message["Subject"]), mails[0])
    head = [f"{name}: {mail.message[name]}" for name in _HEADERS]
    body = mail.plain.rstrip().splitlines()
    return ["", "One of the mails, whole:", "", *(f"  {line}".rstrip() for line in (*head, "", *body))]


def _next_lines(kept: Path | None) -> list[str]:
    command, day = _command(), to_datetime(START_US).date().isoformat()
    if kept is None:
        places = ["Nothing was kept. To keep configuration, journal, mails and webhooks, and more:"]
        tries = [f"{command} demo --keep my-demo"]
    else:
        folder = shlex.quote(str(kept))
        places = [f"Configuration, journal, log, mails and webhooks are in {folder}. Try:"]
        tries = [
            f"{command} status {folder}/{FILE}",
            f"{command} alarms {folder}/{FILE} --since {day}",
            f"{command} readings {folder}/{FILE} --since {day}",
        ]
    example = [f"{command} check {EXAMPLE}"] if EXAMPLE.exists() else []
    return ["", *places, *(f"    {line}" for line in (*tries, *example))]


def _command() -> str:
    """The command as it can be typed here."""
    found = shutil.which("parchd")
    mine = Path(sys.argv[0])
    return "parchd" if found or mine.name != "parchd" else str(mine)


def _pace(speed: float) -> str:
    if speed == 60.0:
        return "A minute on the farm takes a second."
    return f"An hour on the farm takes {3600 / speed:.3g} s."


def _some(count: int, thing: str) -> str:
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"
