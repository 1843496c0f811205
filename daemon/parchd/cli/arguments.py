"""The arguments of each command; kept apart so that ``--help`` imports nothing heavy."""

from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Callable
from pathlib import Path

DEFAULT_CONFIG = Path("/etc/parchd/parchd.toml")
MOST_KPA = 200.0
MOST_SHELF_H = 168
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
    parser.add_argument("--history", action="store_true", help="every step of every alarm, with who did it and why")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--csv", action="store_true", help="print the history as CSV")
    form.add_argument("--json", action="store_true", help="print JSON, an alarm or a step each line")


def _act(parser: ArgumentParser, who: str = "name of a zone, tensiometer, source, ..., or zone/NAME") -> None:
    parser.add_argument("subject", metavar="WHOSE", help=who)
    _config(parser)
    parser.add_argument(
        "--alarm", "-a", metavar="WORD", help="only this alarm, by its word or the first letters of it; default: all"
    )
    parser.add_argument("--by", default="", metavar="NAME", help="who says so; default: your login name")


def _remark(parser: ArgumentParser) -> None:
    parser.add_argument("--because", default="", metavar="TEXT", help="what else there is to say; it is kept")


def _acknowledge(parser: ArgumentParser) -> None:
    _act(parser, "name of a zone, tensiometer, source, ..., or zone/NAME; all: every alarm that waits for it")
    _remark(parser)


def _answer(parser: ArgumentParser) -> None:
    _act(parser)
    _remark(parser)


def _hours(text: str) -> float:
    hours = float(text)
    if not 0.0 < hours <= MOST_SHELF_H:
        raise ArgumentTypeError(f"hours, more than 0 and up to {MOST_SHELF_H} (seven days), not {text}")
    return hours


def _shelve(parser: ArgumentParser) -> None:
    _take_out(parser)
    parser.add_argument("--hours", "-H", required=True, type=_hours, metavar="N", help="for so long; up to 168")


def _take_out(parser: ArgumentParser) -> None:
    _act(parser)
    parser.add_argument("--because", required=True, type=_reason, metavar="TEXT", help="why; it is kept and shown")


def _alarm_report(parser: ArgumentParser) -> None:
    _config(parser)
    _span(parser, "30d")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write a page with pictures")
    parser.add_argument("--ascii", action="store_true", help="draw with plain letters")


def _findings(parser: ArgumentParser) -> None:
    _config(parser)
    _span(parser, "30d")
    parser.add_argument("--all", action="store_true", help="those too that gave way to a better explanation")
    parser.add_argument("--csv", action="store_true", help="print all of it as CSV")


def _reason(text: str) -> str:
    if not text.strip():
        raise ArgumentTypeError("a reason in words")
    return text.strip()


def _dismiss(parser: ArgumentParser) -> None:
    parser.add_argument("tensiometer", metavar="TENSIOMETER", help="its name in the configuration, or that of a source")
    parser.add_argument(
        "finding",
        metavar="FINDING",
        help="its word, as parchd findings shows it in brackets: lost-water, air-leak, ...",
    )
    _config(parser)
    parser.add_argument("--because", required=True, type=_reason, metavar="TEXT", help="why it is wrong; it is kept")
    parser.add_argument("--by", default="", metavar="NAME", help="who says so")


def _explain(parser: ArgumentParser) -> None:
    parser.add_argument("tensiometer", metavar="TENSIOMETER", help="its name in the configuration")
    _config(parser)
    _span(parser, "14d")
    parser.add_argument("--chart", type=Path, metavar="FILE", help="write a page, .html, or the picture alone, .svg")
    parser.add_argument("--width", type=int, metavar="N", help="columns of the text; with .svg: pixels, 320 to 2000")
    parser.add_argument("--ascii", action="store_true", help="draw with plain letters")


def _tell(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--notifier", "-n", action="append", metavar="NAME", help="only this one (may be repeated)")


def _resend(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--since", required=True, metavar="TIME", help=SPAN_HELP)
    parser.add_argument("--until", default=None, metavar="TIME", help="likewise; default: now")
    parser.add_argument("--notifier", "-n", action="append", metavar="NAME", help="only this one (may be repeated)")
    parser.add_argument("--undelivered", action="store_true", help="only messages that never arrived")


def _schema(parser: ArgumentParser) -> None:
    parser.add_argument("kind", nargs="?", default="webhook", metavar="KIND", help="of notifier; default: webhook")


def _tension(text: str) -> float:
    tension_kpa = float(text)
    if not abs(tension_kpa) <= MOST_KPA:
        raise ArgumentTypeError(f"a tension in kPa, up to {MOST_KPA:g}, not {text}")
    return tension_kpa


def _budget(parser: ArgumentParser) -> None:
    parser.add_argument("tensiometer", metavar="TENSIOMETER", help="its name in the configuration")
    _config(parser)
    parser.add_argument("--at", type=_tension, metavar="KPA", help="tension; default: the limit of its zone, or 30")
    parser.add_argument("--date", metavar="TIME", help=f"of measurement, {SPAN_HELP}; default: now")


def _demo(parser: ArgumentParser) -> None:
    parser.add_argument("--speed", type=float, default=60.0, help="times faster than life; default: 60")
    parser.add_argument("--seconds", type=float, default=None, metavar="S", help="stop by itself after so long")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep journal, mails and webhooks in this folder")


def _build_sheet(parser: ArgumentParser) -> None:
    what = parser.add_argument_group(
        "what is built", "lengths are in --unit; 60cm, 24in, 2 1/2in or 10ft say their own"
    )
    what.add_argument(
        "--depth", action="append", default=[], metavar="D",
        help="depth of the cup's middle; repeat it for more: each builds one, unless --count or --each say otherwise",
    )  # fmt: skip
    number = what.add_mutually_exclusive_group()
    number.add_argument("--count", type=int, metavar="N", help="so many in all, the same number of each depth")
    number.add_argument("--each", type=int, metavar="N", help="so many of each depth")
    what.add_argument("--altitude", metavar="M", help="of the site, metres, or 1400ft")
    what.add_argument("--site", metavar="NAME", help="name of the site, for the heading")
    what.add_argument("--config", type=Path, metavar="FILE", help="take depths, numbers, altitude and site from here")
    what.add_argument("--unit", choices=("cm", "in"), default="cm", help="unit of all lengths; default: cm")
    how = parser.add_argument_group("how it is built")
    how.add_argument("--gauge", action="store_true", help="a vacuum gauge on the tee, not a transducer")
    how.add_argument("--stopper", action="store_true", help="a rubber stopper on top, not a cap")
    how.add_argument("--above", metavar="L", help="allowance above the ground; default: 15 cm or 6 in")
    how.add_argument("--top-piece", metavar="L", help="length of the top piece; default: 10 cm or 4 in")
    how.add_argument("--cup-length", metavar="L", help="of the cup outside of the tube; default: 6 cm or 2 1/2 in")
    how.add_argument("--stock-length", metavar="L", help="of the pipe as it is sold; default: 3 m or 10 ft")
    how.add_argument("--kerf", metavar="L", help="what the saw takes at a cut; default: 3 mm or 1/8 in")
    how.add_argument("--spares", type=float, default=10.0, metavar="PERCENT", help="of all pieces; default: 10")
    costs = parser.add_argument_group("what it costs", "without both, a terminal is asked")
    prices = costs.add_mutually_exclusive_group()
    prices.add_argument("--prices", type=Path, metavar="FILE", help="your prices, a TOML file")
    prices.add_argument("--no-prices", action="store_true", help="no costs, and no questions about them")
    parser.add_argument("--output", "-o", type=Path, metavar="FILE", help="write a page for browser and printer, .html")


def _reprocess(parser: ArgumentParser) -> None:
    _config(parser)
    _span(parser, "30d")
    parser.add_argument("--tensiometer", "-t", action="append", metavar="NAME", help="only this one (may be repeated)")


def _service(parser: ArgumentParser) -> None:
    _config(parser)
    parser.add_argument("--tensiometer", "-t", metavar="NAME", help="which; without --work: list its services only")
    parser.add_argument(
        "--work",
        "-w",
        choices=("install", "refill", "re-prime", "re-zero", "frost-removal", "other"),
        help="what was done; left out: list what is written down",
    )
    parser.add_argument("--at", metavar="TIME", help=f"when it was finished: {SPAN_HELP}; default: now")
    parser.add_argument("--took-min", type=float, default=30.0, metavar="MIN", help="minutes it took; default: 30")
    parser.add_argument("--quiet-h", type=float, metavar="H", help="hours until it has settled; default: by the work")
    parser.add_argument("--by", default="", metavar="NAME", help="who did it")
    parser.add_argument("--note", default="", metavar="TEXT", help="what else there is to say")
    parser.add_argument("--left-cm", type=float, metavar="CM", help="height of the water above the cup afterwards")
    parser.add_argument("--found-cm", type=float, metavar="CM", help="height of the water above the cup before")
    parser.add_argument("--records", type=Path, metavar="FOLDER", help="where the record and its picture go")


def _on_the_bench(parser: ArgumentParser) -> None:
    parser.add_argument("tensiometer", metavar="TENSIOMETER", help="its name in the configuration")
    _config(parser)


def _kept(parser: ArgumentParser) -> None:
    parser.add_argument("--typed", action="store_true", help="type values in; no samples are taken")
    parser.add_argument("--records", type=Path, metavar="FOLDER", help="default: records, beside the journal")
    parser.add_argument("--by", metavar="NAME", help="who does it, for the record")
    parser.add_argument("--ascii", action="store_true", help="draw with plain letters")


def _prove(parser: ArgumentParser) -> None:
    _on_the_bench(parser)
    parser.add_argument(
        "--test", choices=("hold", "towel", "return"), help="only this one; default: guide through all three"
    )
    parser.add_argument("--time-limit", metavar="TIME", help="20min or 90s; default: towel 60, hold 5, return 10 min")
    parser.add_argument("--target", type=float, metavar="KPA", help="tension the towel test must reach; default: 20")
    parser.add_argument("--good", type=float, metavar="KPA", help="tension that is good, and ends it; default: 30")
    parser.add_argument("--leak", type=float, metavar="KPA", help="vacuum that may be lost in 5 minutes; default: 2")
    parser.add_argument("--zero", type=float, metavar="KPA", help="how far the zero may be off; default: 1")
    _kept(parser)


def _calibrate(parser: ArgumentParser) -> None:
    _on_the_bench(parser)
    check = parser.add_mutually_exclusive_group()
    check.add_argument("--zero", action="store_true", help="set the zero anew: cup in water, or port open to the air")
    check.add_argument("--check", action="store_true", help="set zero and span anew by two known pressures")
    parser.add_argument(
        "--reference", metavar="UNIT", help="cm or in of a hanging water column, or the unit of a gauge; else it asks"
    )
    parser.add_argument("--degree", type=int, choices=(1, 2), help="1 for a line, 2 for a curve; default: 1")
    parser.add_argument("--steady", metavar="TIME", help="how long a signal must stand still; default: 15s")
    _kept(parser)


def _evaluate(parser: ArgumentParser) -> None:
    which = parser.add_argument_group("which seasons")
    which.add_argument("--seasons", type=int, default=200, metavar="N", help="with faults; default: 200")
    which.add_argument("--healthy", type=int, default=50, metavar="M", help="without any; default: 50")
    which.add_argument(
        "--first-seed", type=int, default=1_000_001, metavar="K",
        help="seed of the first; those below 1000001 are for tuning detectors; default: 1000001",
    )  # fmt: skip
    which.add_argument("--days", type=int, default=180, metavar="D", help="length of each; default: 180")
    which.add_argument("--kinds", nargs="+", metavar="KIND", help="judge only these kinds; default: all")
    which.add_argument("--jobs", type=int, metavar="J", help="processes at once; default: one for each processor")
    which.add_argument("--cache", type=Path, metavar="FOLDER", help="keep simulated seasons here for the next time")
    told = parser.add_argument_group("what is told")
    told.add_argument("--list", action="store_true", help="also list each missed fault and each false finding")
    told.add_argument("--report", type=Path, metavar="FOLDER", help="write report.html and summary.txt there")
    told.add_argument("--season", type=int, metavar="SEED", help="tell of one season only, with a drawing")
    told.add_argument(
        "--without-faults", action="store_true", help="with --season: the season of this seed without faults"
    )


ARGUMENTS: dict[str, Callable[[ArgumentParser], None]] = {
    "run": _run,
    "check": _check,
    "status": _status,
    "readings": _readings,
    "alarms": _alarms,
    "acknowledge": _acknowledge,
    "shelve": _shelve,
    "unshelve": _answer,
    "take-out": _take_out,
    "put-back": _answer,
    "reset": _answer,
    "renew-links": _config,
    "alarm-report": _alarm_report,
    "findings": _findings,
    "explain": _explain,
    "dismiss": _dismiss,
    "tell": _tell,
    "resend": _resend,
    "schema": _schema,
    "budget": _budget,
    "service": _service,
    "reprocess": _reprocess,
    "demo": _demo,
    "build-sheet": _build_sheet,
    "prove": _prove,
    "calibrate": _calibrate,
    "evaluate": _evaluate,
}
