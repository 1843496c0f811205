"""The ``parchd`` command: one sub-command a module, nothing heavy imported before it is needed."""

import argparse
import os
import sqlite3
import sys
from collections.abc import Sequence
from importlib import import_module

from parchd import __version__
from parchd.cli.arguments import ARGUMENTS
from parchd.cli.exits import Exit
from parchd.contract import ConfigError, ParchdError, StoreError

COMMANDS = {
    "run": "run the daemon in the foreground",
    "check": "check a configuration and show its effective values",
    "status": "show what each zone and tensiometer says now",
    "readings": "print readings of a span of time as CSV",
    "alarms": "show how alarms stand, and their history",
    "acknowledge": "say that somebody has seen an alarm",
    "shelve": "keep an alarm quiet for some hours",
    "unshelve": "take an alarm off the shelf before its time",
    "take-out": "take an alarm out of service",
    "put-back": "put an alarm back into service",
    "reset": "say that the cause of a latched alarm is mended",
    "renew-links": "make all links useless that were sent in messages so far",
    "alarm-report": "report how often alarms came, to whom, how long they stood and who answered",
    "findings": "show what the diagnosis finds and found, and what happened to the ground",
    "explain": "explain one tensiometer: findings, evidence, what to do, and a chart",
    "dismiss": "say that a finding is wrong",
    "tell": "send a test message through each notifier",
    "resend": "send messages of a span of time again, under the ids that they had",
    "schema": "print the JSON Schema of what a notifier sends to programs",
    "budget": "show what makes a tension uncertain, and how much",
    "service": "write down work on a tensiometer, or list it",
    "reprocess": "compute readings of a span of time anew from the raw samples",
    "demo": "run an invented farm, sixty times faster than life",
    "build-sheet": "work out what to cut, to buy and to expect of home-built tensiometers",
    "prove": "prove an instrument on the bench: vacuum hold, towel, return to water",
    "calibrate": "calibrate a transducer against a water column or gauge, or check it",
    "evaluate": "judge the sensor diagnosis on simulated seasons whose faults are known",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code."""
    arguments = build_parser().parse_args(argv)
    try:
        code = int(import_module(f"parchd.cli.{arguments.command.replace('-', '_')}").command(arguments))
        sys.stdout.flush()
    except ConfigError as error:
        from parchd.config.report import errors_text

        print(errors_text(error.problems), file=sys.stderr)
        return Exit.CONFIG
    except StoreError as error:
        return _complain(error, Exit.STORE)
    except sqlite3.Error as error:
        return _complain(f"the journal cannot be read ({error})", Exit.STORE)
    except ParchdError as error:
        return _complain(error, Exit.FAILED)
    except BrokenPipeError:
        return _nobody_reads_on()
    except KeyboardInterrupt:
        return Exit.FAILED
    return code


def _complain(what: object, code: Exit) -> Exit:
    print(f"parchd: {what}", file=sys.stderr)
    return code


def _nobody_reads_on() -> Exit:
    """Let Python find no pipe to flush at the end, or it would complain there."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return Exit.OK


def build_parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    parser = argparse.ArgumentParser(
        prog="parchd",
        description="Soil water tension from tensiometers with pressure transducers.",
        epilog="Exit codes: " + ", ".join(f"{code.value} {code.meaning}" for code in Exit),
    )
    parser.add_argument("--version", action="version", version=f"parchd {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, help_text in COMMANDS.items():
        command = commands.add_parser(name, help=help_text, description=f"{help_text[0].upper()}{help_text[1:]}.")
        ARGUMENTS[name](command)
    return parser
