"""Two heat maps: what was taken for what, and how much was found where."""

from collections.abc import Sequence

from parchd.diagnosis.kinds import FindingKind
from parchd.evaluation.heat import Heat, heat_svg
from parchd.evaluation.strata import Strata
from parchd.evaluation.tally import HEALTHY, NOTHING, Tally


def confusion_svg(tally: Tally) -> str:
    """Draw what was taken for what: rows are true, columns are said."""
    order = [kind.value for kind in FindingKind]
    rows = [kind for kind in order if any(true == kind for true, _ in tally.confusion)] + [HEALTHY]
    said = {name for pair, count in tally.confusion.items() if count for name in pair}
    columns = [kind for kind in order if kind in said] + [NOTHING]
    sums = {row: sum(count for (true, _), count in tally.confusion.items() if true == row) for row in rows}
    cells = {pair: count for pair, count in tally.confusion.items() if count}
    heat = Heat(
        "what was true and what was said",
        rows,
        columns,
        {pair: count / sums[pair[0]] for pair, count in cells.items()},
        {pair: f"{count}" for pair, count in cells.items()},
        lambda row, column: row == column or (row, column) == (HEALTHY, NOTHING),
    )
    return heat_svg(heat, "true", "said")


def recall_svg(strata: Strata, kinds: Sequence[str], parts: Sequence[str]) -> str:
    """Draw how many of the faults of each kind were found in each part."""
    heat = Heat(
        "share of faults found",
        kinds,
        parts,
        {key: share.recall for key, share in strata.items()},
        {key: f"{share.found}/{share.faults}" for key, share in strata.items()},
    )
    return heat_svg(heat, "kind", "found, of how many")
