"""Who is silent: channels, and sources as a whole."""

from collections.abc import Iterator, Mapping

from parchd.diagnosis.setup import DiagnosisSetup
from parchd.diagnosis.standing import DiagnosisState
from parchd.diagnosis.verdict import Verdict


def listen(
    state: DiagnosisState, setup: DiagnosisSetup, heard_us: Mapping[str, int], listening_since_us: int, now_us: int
) -> Iterator[tuple[str, Verdict]]:
    """Yield subjects with what is to be said of them."""
    yield from ()
