"""Falls of tension: where they began, how deep they went, and whether water explains them."""

from collections.abc import Iterator

from parchd.diagnosis.verdict import Look, Verdict


def watch(look: Look) -> Iterator[Verdict]:
    """Find falls and follow them; yield events of wetting."""
    yield from ()
