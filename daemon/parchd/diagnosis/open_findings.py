"""The findings that hold, and an index of them by whom they concern."""

from collections.abc import Iterable

from parchd.contract import Flag
from parchd.diagnosis.findings import Finding, FindingKey
from parchd.diagnosis.kinds import CONSEQUENCES, FindingKind

DOUBTS = frozenset(kind for kind, consequence in CONSEQUENCES.items() if consequence.flag is not Flag.PASS)
"""Kinds that take away trust in a tensiometer."""


class OpenFindings(dict[FindingKey, Finding]):
    """Open findings by their key; detectors ask in every hour which there are of a subject.

    Args:
        findings: that hold from the first.
    """

    def __init__(self, findings: Iterable[Finding] = ()) -> None:
        super().__init__()
        self.kinds: dict[str, frozenset[FindingKind]] = {}
        self.doubted: set[str] = set()
        for finding in findings:
            self[finding.key] = finding

    def __setitem__(self, key: FindingKey, finding: Finding) -> None:
        super().__setitem__(key, finding)
        self._index(key.subject, self.of(key.subject) | {key.kind})

    def __delitem__(self, key: FindingKey) -> None:
        super().__delitem__(key)
        self._index(key.subject, self.of(key.subject) - {key.kind})

    def end(self, key: FindingKey) -> Finding:
        """Take one out."""
        finding = self[key]
        del self[key]
        return finding

    def of(self, subject: str) -> frozenset[FindingKind]:
        """Kinds that are open on a subject."""
        return self.kinds.get(subject, NONE)

    def _index(self, subject: str, kinds: frozenset[FindingKind]) -> None:
        self.kinds[subject] = kinds
        if not kinds:
            del self.kinds[subject]
        if kinds.isdisjoint(DOUBTS):
            self.doubted.discard(subject)
        else:
            self.doubted.add(subject)


NONE: frozenset[FindingKind] = frozenset()
