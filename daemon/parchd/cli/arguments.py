"""The arguments of each command; kept apart so that ``--help`` imports nothing heavy."""

from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path

DEFAULT_CONFIG = Path("/etc/parchd/parchd.toml")
SPAN_HELP = "local time (2026-05-01 or 2026-05-01T06:00), or an age: 90min, 36h, 7d"


def _config(parser: ArgumentParser) -> None:
    parser.add_argument("config", nargs="?", type=Path, default=DEFAULT_CONFIG, help=f"default: {DEFAULT_CONFIG}")


def _run(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--verbose", "-v", action="store_true", help="log every message sent and every small thing")
    parser.add_argument("--until-read", action="store_true", help="stop when all sources have read all they had")


def _check(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--quiet", "-q", action="store_true", help="print problems only")


def _status(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--quiet", "-q", action="store_true", help="print nothing; fail when the daemon is not alive")


def _span(parser: ArgumentParser, default: str) -> None:
    parser.add_argument("--since", default=default, metavar="TIME", help=f"{SPAN_HELP}; default: {default}")
    parser.add_argument("--until", default=None, metavar="TIME", help="likewise; default: now")


def _readings(parser: ArgumentParser) -> None:
    _config(parser)
    _span(parser, "24h")
    parser.add_argument("--tensiometer", "-t", action="append", metavar="NAME", help="only this one (may be repeated)")
    parser.add_argument("--output", "-o", type=Path, metavar="FILE", help="write to a file, not to the terminal")


def _alarms(parser: ArgumentParser) -> None:
    _config(parser)
    _span(parser, "7d")
    parser.add_argument("--csv", action="store_true", help="print the history as CSV")


def _tell(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--notifier", "-n", action="append", metavar="NAME", help="only this one (may be repeated)")


def _demo(parser: ArgumentParser) -> None:
    parser.add_argument("--speed", type=float, default=60.0, help="times faster than life; default: 60")
    parser.add_argument("--seconds", type=float, default=None, metavar="S", help="stop by itself after so long")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep journal, mails and webhooks in this folder")


ARGUMENTS: dict[str, Callable[[ArgumentParser], None]] = {
    "run": _run,
    "check": _check,
    "status": _status,
    "readings": _readings,
    "alarms": _alarms,
    "tell": _tell,
    "demo": _demo,
}
