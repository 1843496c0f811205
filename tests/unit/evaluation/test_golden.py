"""One season whose findings are written down: a change of what the diagnosis says of it is a reviewed difference."""

from pathlib import Path

from parchd.evaluation.keeping import kept
from parchd.evaluation.telling import told

GOLDEN = Path(__file__).parents[2] / "data" / "golden_season.txt"
SEED, DAYS = 50, 60
ANEW = f"parchd evaluate --season {SEED} --days {DAYS} > tests/data/{GOLDEN.name}"


def test_the_golden_season_is_told_as_it_was_written_down() -> None:
    """When the difference is meant, write the file anew with the command in ``ANEW`` and read what changed."""
    text = "\n".join(told(kept(SEED, faults=True, days=DAYS, folder=None), None)) + "\n"
    assert text.splitlines() == GOLDEN.read_text(encoding="utf-8").splitlines(), ANEW
