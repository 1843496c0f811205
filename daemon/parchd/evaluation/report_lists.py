"""The long lists of a report: what was false, what was missed."""

from collections.abc import Sequence

from parchd.evaluation.listing import chain_text, facts_text, fault_text, shows_text
from parchd.evaluation.result import SeasonResult
from parchd.evaluation.score import Mark, Stray
from parchd.workbench.markup import tag, words

_MOST = 300


def false_list(results: Sequence[SeasonResult]) -> str:
    """Every false finding with its evidence."""
    return _list([_false(result, stray) for result in results for stray in result.strays])


def missed_list(results: Sequence[SeasonResult]) -> str:
    """Every missed fault."""
    return _list(
        [
            f"Season {result.seed}: {fault_text(one.fault)}; {shows_text(one)}."
            for result in results
            for one in result.judged
            if one.mark is Mark.MISSED
        ]
    )


def _false(result: SeasonResult, stray: Stray) -> str:
    true = f"true was {fault_text(stray.beside)}" if stray.beside else "nothing was wrong with it"
    return f"Season {result.seed}: {chain_text(stray.chain)}; {true}. Evidence: {facts_text(stray.chain.last)}."


def _list(lines: Sequence[str]) -> str:
    shown = [words("li", line) for line in lines[:_MOST]]
    if len(lines) > _MOST:
        shown.append(words("li", f"and {len(lines) - _MOST} more: see summary.txt."))
    return tag("ul", "\n".join(shown), "list") if shown else words("p", "None.")
