"""The whole result as one HTML page that needs nothing else."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from importlib.resources import files

from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation import delays, heat, multiples
from parchd.evaluation.aims import Aim, aims
from parchd.evaluation.confusion import confusion_svg, recall_svg
from parchd.evaluation.making import Making
from parchd.evaluation.prose import CONFUSION_NOTE, KINDS_NOTE, LIMITS, PICTURES_NOTE, RULES
from parchd.evaluation.report_lists import false_list, missed_list
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.strata import by_interval, by_size, by_soil, kinds_in, parts
from parchd.evaluation.summary import hours_text, number
from parchd.evaluation.tally import Row, Tally, aside_lines
from parchd.workbench.chart import Chart
from parchd.workbench.chart_svg import chart_svg
from parchd.workbench.markup import row, section, table, tag, words

_SIDES = "<>>>>>>>>>>>"
_HEAD = (
    "Kind", "Faults", "Found", "Recall", "False", "Precision", "Delay, median h", "90 % h", "Since it shows, h",
    "Dated, median h", "90 % off by, h", "Set aside",
)  # fmt: skip


Picture = tuple[str, Chart]
"""What stands above a chart, and the chart."""


def report_page(results: Sequence[SeasonResult], tally: Tally, making: Making, pictures: Iterable[Picture]) -> str:
    """Write the page; it is well-formed XML as well."""
    sections = [
        section("Aims and results", _aims(tally)),
        section("By kind", _kinds(tally)),
        section("How long it takes", _delays(tally)),
        section("What was taken for what", _confusion(tally)),
        section("Where faults are missed", _strata(results)),
        section("One fault of each kind", _pictures(pictures)),
        section("False findings", [false_list(results)]),
        section("Missed faults", [missed_list(results)]),
        section("How a fault counts", [_items(RULES), _items(aside_lines(tally))]),
        section("What this does not say", [_items(LIMITS)]),
        section("How it was made", [words("p", line, "code") for line in making.lines()]),
    ]
    style = files("parchd.evaluation").joinpath("report.css").read_text(encoding="utf-8")
    style += heat.STYLE + delays.STYLE + multiples.STYLE
    body = "\n".join([_header(results, tally), *sections])
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8"/>\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/>\n'
        "<title>How well parchd finds tensiometers that cannot be believed</title>\n"
        f"<style>\n{style}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _items(texts: Iterable[str]) -> str:
    lines = [words("li", text) for text in texts]
    return tag("ul", "\n".join(lines)) if lines else ""


def _header(results: Sequence[SeasonResult], tally: Tally) -> str:
    faulty = sum(result.faulty for result in results)
    days = round(sum(result.years for result in results) / max(1, len(results)) * 365.25)
    said = (
        f"{faulty} simulated seasons with {tally.all.faults + tally.all.aside} faults and {len(results) - faulty} "
        f"without any, of {days} days on average. {tally.all.found} of {tally.all.faults} faults that can be seen were "
        f"found and rightly named; {tally.all.false} findings were wrong."
    )
    return tag("header", words("h1", "How well parchd finds tensiometers that cannot be believed") + words("p", said))


def _aims(tally: Tally) -> Iterator[str]:
    rows = [row(_aim_cells(aim), "<>><") for aim in aims(tally)]
    yield table(("Aim", "Wanted", "Result", ""), rows, "<>><")
    yield words(
        "p",
        f"False findings on healthy tensiometers that stand beside faulty ones: {tally.false_beside} in "
        f"{tally.years_beside:.1f} sensor-years, {number(tally.beside_rate)} a year. Silences of healthy gateways and "
        f"channels that were told, and were real: {tally.outages}.",
        "small",
    )


def _aim_cells(aim: Aim) -> list[str]:
    unit = f" {aim.unit}" if aim.unit else ""
    sign = "at least" if aim.at_least else "at most"
    verdict = words("span", aim.verdict, "word missed" if aim.verdict == "missed" else "word")
    return [escape(aim.what), f"{sign} {aim.aim:g}{unit}", f"{number(aim.result)}{unit}", verdict]


def _kinds(tally: Tally) -> Iterator[str]:
    rows = []
    for one in tally.rows:
        rows.append(row(_cells(one), _SIDES))
        rows += [row(_cells(form), _SIDES, "form") for form in tally.forms if form.name.startswith(f"{one.name} (")]
    yield table(_HEAD, [*rows, row(_cells(tally.all), _SIDES, "sum")], _SIDES, "kinds")
    yield words("p", KINDS_NOTE, "small")


def _cells(one: Row) -> list[str]:
    late = [abs(hours) for hours in one.dating_h]
    false = "" if one.false is None else f"{one.false}"
    return [
        escape(one.name), f"{one.faults}", f"{one.found}", number(one.recall), false, number(one.precision),
        hours_text(one.delay_h, 0.5), hours_text(one.delay_h, 0.9), hours_text(one.shown_h, 0.5),
        hours_text(one.dating_h, 0.5), hours_text(late, 0.9), f"{one.aside}",
    ]  # fmt: skip


def _delays(tally: Tally) -> Iterator[str]:
    split = {form.name.partition(" (")[0] for form in tally.forms}
    rows = [*(one for one in tally.rows if one.name not in split), *tally.forms]
    yield words("p", "Dot: half of the faults that were found were named by then. Line: from 10 to 90 of a hundred.")
    yield tag("div", tag("div", delays.delays_svg(rows), "wide"), "scroll")


def _confusion(tally: Tally) -> Iterator[str]:
    yield words("p", CONFUSION_NOTE)
    yield tag("div", tag("div", confusion_svg(tally), "wide"), "scroll")


def _strata(results: Sequence[SeasonResult]) -> Iterator[str]:
    order, sizes = [kind.value for kind in FindingKind], by_size(results)
    yield words("h3", "By the size of the fault")
    yield words("p", "Of the faults of each quarter of the range of sizes, from mild to strong: how many were found.")
    yield multiples.multiples(kinds_in(sizes, order), sizes)
    for title, strata in (("By the interval between samples", by_interval(results)), ("By soil", by_soil(results))):
        names = parts(strata, lambda part: (len(part), part)) if strata else []
        yield words("h3", title)
        yield tag("div", tag("div", recall_svg(strata, kinds_in(strata, order), names), "wide"), "scroll")


def _pictures(pictures: Iterable[Picture]) -> Iterator[str]:
    yield words("p", PICTURES_NOTE)
    yield tag("div", "\n".join(_figure(picture) for picture in pictures), "pictures")


def _figure(picture: Picture) -> str:
    return tag("figure", words("figcaption", picture[0]) + chart_svg(picture[1]))
